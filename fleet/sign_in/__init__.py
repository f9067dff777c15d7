"""Signing in with a password, and guesses of it: counted, slowed and stopped, without locking anybody out.

`limits` says how many guesses are too many (pure), `attempts` counts them, `backend` asks before it hashes,
`devices` knows browsers that have signed in before, `waiting` says how long to wait, `lockouts` shows an
owner what was refused. django-axes carries it: backend, table of attempts, signals and answer.
"""
