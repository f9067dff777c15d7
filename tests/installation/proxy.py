"""A caller behind a proxy that ends TLS: hands requests on over plain HTTP, as the paper wants it done."""

import http.client
import json
import re
from html import unescape
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import urlencode, urlsplit

HOST = "hourmark.example.org"
CALLER = "203.0.113.7"  # RFC 5737: for documentation


class Caller:
    """Somebody's browser, or a device. Keeps cookies; follows nothing by itself."""

    def __init__(self, port: int, *, token: str = "") -> None:
        self._port = port
        self._token = token
        self._cookies: dict[str, str] = {}

    def get(self, path: str, **headers: str) -> tuple[int, str]:
        """Ask for a page; return status and body."""
        status, _, body = self._ask("GET", path, None, headers)
        return status, body

    def post_form(self, path: str, fields: Any) -> tuple[int, str]:
        """Open a page, or what it leads to, fill in its form and send it; return status and what follows."""
        status, headers, page = self._ask("GET", path, None, {})
        if status == 302:
            path = path_of(headers["Location"])
            _, page = self.get(path)
        secret = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
        assert secret, f"no form at {path}: {page[:2000]}"
        body = urlencode({**fields, "csrfmiddlewaretoken": secret[1]}, doseq=True)
        kind = {"Content-Type": "application/x-www-form-urlencoded", "Origin": f"https://{HOST}"}
        status, headers, answer = self._ask("POST", path, body, {**kind, "Referer": f"https://{HOST}{path}"})
        return status, headers.get("Location", "") or answer

    def post_json(self, path: str, content: Any) -> tuple[int, Any]:
        """Send JSON; return status and what came back."""
        status, _, body = self._ask("POST", path, json.dumps(content), {"Content-Type": "application/json"})
        return status, json.loads(body)

    def _ask(
        self, method: str, path: str, body: str | None, headers: dict[str, str]
    ) -> tuple[int, dict[str, str], str]:
        sent = {"Host": HOST, "X-Forwarded-Proto": "https", "X-Forwarded-For": CALLER, **headers}
        if self._cookies:
            sent["Cookie"] = "; ".join(f"{name}={value}" for name, value in self._cookies.items())
        if self._token:
            sent["Authorization"] = f"Bearer {self._token}"
        line = http.client.HTTPConnection("127.0.0.1", self._port, timeout=30)
        try:
            line.request(method, path, body, sent)
            answer = line.getresponse()
            text = answer.read().decode()
        finally:
            line.close()
        for each in answer.headers.get_all("Set-Cookie", ()):
            for name, morsel in SimpleCookie(each).items():
                if not morsel.value:  # it is taken back
                    self._cookies.pop(name, None)
                    continue
                assert morsel["secure"], f"{name} may go over a line that anybody reads"
                self._cookies[name] = morsel.value
        return answer.status, dict(answer.headers), text


def path_of(address: str) -> str:
    """Return the path of an address of the installation, wherever it is."""
    parts = urlsplit(address)
    assert parts.netloc in ("", HOST), address
    return parts.path


def options(page: str, name: str) -> dict[str, str]:
    """Return the choices of a select, or of boxes, of this name: {text: value}."""
    inner = re.search(rf'<select[^>]*name="{name}".*?</select>', page, re.DOTALL)
    assert inner, f"no choice of {name}: {page[:3000]}"
    found = re.findall(r'<option value="([^"]*)"[^>]*>([^<]*)', inner[0])
    return {unescape(text).strip(): value for value, text in found}
