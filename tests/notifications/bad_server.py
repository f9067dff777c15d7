"""An SMTP server (RFC 5321) of plain sockets that breaks off, hangs or talks nonsense where it is told to."""

import socketserver
import threading
from collections.abc import Callable
from typing import Any

GOOD = "good"
DURING = "content"  # cut as the content goes out: how far that came is luck
BEFORE_THE_DOT = ("greeting", "ehlo", "mail", "rcpt", "data", "data hangs")
AFTER_THE_DOT = ("dot", "dot hangs", "dot nonsense", "dot endless")
TAKEN = (GOOD, "quit", "quit hangs", "quit refused")


class BadServer:
    """Serves inside a `with`; `stage(number)` says how connection `number`, from 0, will go.

    kept: each content that came in whole, whatever was answered, as a mail server might deliver it.
    answers: what to say instead of the usual to a command ("MAIL", "RCPT", "DATA", "." for the end).
    """

    def __init__(self, stage: Callable[[int], str] = lambda number: GOOD, **answers: str) -> None:
        self.stage, self.answers = stage, answers
        self.kept: list[str] = []
        self.commands: list[str] = []
        self.extensions = ["8BITMIME"]
        self.connections = 0
        self.over = threading.Event()
        self._server = socketserver.ThreadingTCPServer(
            ("127.0.0.1", 0), type("Bound", (_Talk,), {"bad": self})
        )
        self._server.daemon_threads = True
        self.port = int(self._server.server_address[1])

    def __enter__(self) -> "BadServer":
        threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True).start()
        return self

    def __exit__(self, *exception: object) -> None:
        self.over.set()
        self._server.shutdown()
        self._server.server_close()


class _Talk(socketserver.StreamRequestHandler):
    bad: BadServer

    def handle(self) -> None:
        bad = self.bad
        stage = bad.stage(bad.connections)
        bad.connections += 1
        if stage == "greeting":
            return
        self._say(bad.answers.get("greeting", "220 here"))
        while command := self.rfile.readline().decode("utf-8", "replace").strip():
            verb = command.split()[0].upper().partition(":")[0]
            bad.commands.append(command)
            if stage == verb.lower():
                return
            if stage == f"{verb.lower()} hangs":
                bad.over.wait(30)
                return
            if verb == "QUIT":
                self._say("451 not now" if stage == "quit refused" else "221 bye")
                return
            if verb == "DATA" and "DATA" not in bad.answers:
                self._say("354 go on")
                if stage == DURING or not self._take_in(stage):
                    return
            elif verb == "EHLO":
                lines = ["here", *bad.extensions]
                self._say("\r\n".join([f"250-{line}" for line in lines[:-1]] + [f"250 {lines[-1]}"]))
            else:
                self._say(bad.answers.get(verb, "250 fine"))

    def _take_in(self, stage: str) -> bool:
        """Read to the dot and answer; False when the line is cut."""
        lines = []
        while (line := self.rfile.readline()) != b".\r\n":
            if not line:
                return False
            lines.append(line.removeprefix(b".") if line.startswith(b"..") else line)
        self.bad.kept.append(b"".join(lines).decode("utf-8", "replace"))
        if stage == "dot":
            return False
        if stage == "dot hangs":
            self.bad.over.wait(30)
            return False
        answer: Any = self.bad.answers.get("dot", "250 taken")
        self._say({"dot nonsense": "what?", "dot endless": "2" * 9000}.get(stage, answer))
        return True

    def _say(self, line: str) -> None:
        self.wfile.write(f"{line}\r\n".encode())
