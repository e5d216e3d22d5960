# SPDX-License-Identifier: MIT
"""Certificates made by the openssl command, and a server that has one."""

import os
import shutil
import ssl
import subprocess
import tempfile

from tests.support.client import GUARD_SECONDS
from tests.support.serving import Server


def openssl(*arguments, **options):
    return subprocess.run(["openssl", *arguments], check=True, capture_output=True, timeout=60,
                          **options).stdout


class Certificates:
    """A private authority and the certificates that it signed, in a temporary folder."""

    def __init__(self):
        self.folder = tempfile.mkdtemp(prefix="cairn-tls-")
        openssl("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes",
                "-keyout", self.path("ca.key"), "-out", self.path("ca.pem"), "-days", "2",
                "-subj", "/CN=Merrow test authority")
        self.issue("server", "ec", "-pkeyopt", "ec_paramgen_curve:P-256")
        self.issue("rsa", "rsa:2048")

    def path(self, name):
        return os.path.join(self.folder, name)

    def issue(self, name, *kind):
        """NAME.pem (the certificate and the authority's behind it) and NAME.key."""
        openssl("req", "-newkey", *kind, "-nodes", "-keyout", self.path(name + ".key"), "-out",
                self.path(name + ".csr"), "-subj", "/CN=cairn.local")
        with open(self.path(name + ".ext"), "w", encoding="ascii") as file:
            file.write("subjectAltName=DNS:cairn.local,IP:127.0.0.1\n")
        own = openssl("x509", "-req", "-in", self.path(name + ".csr"), "-CA", self.path("ca.pem"),
                      "-CAkey", self.path("ca.key"), "-CAcreateserial", "-days", "2", "-extfile",
                      self.path(name + ".ext"))
        with open(self.path("ca.pem"), "rb") as file:
            authority = file.read()
        with open(self.path(name + ".pem"), "wb") as file:
            file.write(own + authority)

    def discard(self):
        shutil.rmtree(self.folder, ignore_errors=True)


class TlsServer(Server):
    """The small event behind a certificate; `ask` and `connect` speak TLS."""

    def __init__(self, certificates, name="server"):
        self.options = ("--tls-cert", certificates.path(name + ".pem"), "--tls-key",
                        certificates.path(name + ".key"))
        self.trust = ssl.create_default_context(cafile=certificates.path("ca.pem"))
        super().__init__()

    def bare(self, timeout=GUARD_SECONDS):
        """A socket without TLS."""
        return super().connect(timeout)

    def connect(self, timeout=GUARD_SECONDS, trust=None):
        return (trust or self.trust).wrap_socket(self.bare(timeout), server_hostname="127.0.0.1")
