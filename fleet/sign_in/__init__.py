"""Signing in with a password, and guesses of it: counted, slowed and stopped, without locking anybody out.

`limits` says how many guesses are too many (pure), `attempts` counts them, `backend` asks before it hashes,
`devices` knows browsers that have signed in before, `told` says how long to wait, `refused` shows an owner
what was refused. django-axes carries it: its backend, its table of attempts, its signals and its answer.
"""
