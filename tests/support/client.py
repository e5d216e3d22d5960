# SPDX-License-Identifier: MIT
"""HTTP clients: answers, a connection that is kept, a question on a connection of its own."""

import http.client
import json
import time

from tests.support.cairn import SLOWNESS

GUARD_SECONDS = 60 * SLOWNESS  # for an answer: a guard against waiting for ever


class Answer:
    """A status, the headers (names in lower case) and the body as it came.
      response  the answer as http.client has it, read here to its end"""

    def __init__(self, method, path, response):
        self.method, self.path = method, path
        self.status = response.status
        self.headers = {}
        for name, value in response.getheaders():
            if name.lower() in self.headers:
                raise AssertionError(f"header {name} came twice")
            self.headers[name.lower()] = value
        self.body = response.read()

    def __str__(self):
        return (f"{self.method} {self.path[:100]}: {self.status} {self.headers} "
                f"{self.body[:300]!r}")

    @property
    def media_type(self):
        """Without parameters; None where there is none."""
        return self.headers.get("content-type", "").split(";")[0].strip() or None

    @property
    def text(self):
        return self.body.decode("utf-8")

    def json(self):
        return json.loads(self.body)


def connection_to(port, host="127.0.0.1", source=None, trust=None, timeout=GUARD_SECONDS):
    """A connection, not opened yet.
      source  the address that it is asked from, None for any
      trust   an ssl context where TLS is spoken"""
    more = {} if source is None else {"source_address": (source, 0)}
    if trust is not None:
        return http.client.HTTPSConnection(host, port, timeout=timeout, context=trust, **more)
    return http.client.HTTPConnection(host, port, timeout=timeout, **more)


def ask(port, method, path, body=None, key=None, headers=None, **how):
    """Asks on a connection of its own; `how` goes to connection_to."""
    sent = dict(headers or {})
    if key is not None:
        sent["Authorization"] = "Bearer " + key
    connection = connection_to(port, **how)
    try:
        connection.request(method, path, body, sent)
        return Answer(method, path, connection.getresponse())
    finally:
        connection.close()


class Client:
    """One keep-alive connection to a server, opened anew where it was lost. Not for two threads."""

    IDLE_SECONDS = 30  # the server ends a connection that nothing was asked on for a minute

    def __init__(self, server, key=None, timeout=GUARD_SECONDS):
        self.server, self.key, self.timeout = server, key, timeout
        self.connection, self.used = None, 0

    def close(self):
        if self.connection is not None:
            self.connection.close()
            self.connection = None

    def ask(self, method, path, body=None, media_type=None, headers=None):
        """Asks once. Raises OSError or HTTPException where no whole answer came."""
        sent = dict(headers or {})
        if self.key is not None:
            sent["Authorization"] = "Bearer " + self.key
        if media_type is not None:
            sent["Content-Type"] = media_type
        if time.monotonic() - self.used > self.IDLE_SECONDS:
            self.close()
        if self.connection is None:
            self.connection = connection_to(self.server.port, self.server.host,
                                            timeout=self.timeout)
        try:
            self.connection.request(method, path, body, sent)
            response = self.connection.getresponse()
            answer = Answer(method, path, response)
        except (OSError, http.client.HTTPException):
            self.close()
            raise
        self.used = time.monotonic()
        if response.will_close:
            self.close()
        return answer

    def get(self, path, **headers):
        return self.ask("GET", path, headers=headers)

    def good(self, path):
        """The body of a page that must be there."""
        answer = self.get(path)
        if answer.status != 200:
            raise AssertionError(str(answer))
        return answer.body
