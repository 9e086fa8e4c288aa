"""TLS of the console, with a certificate of the test's own, and which addresses are refused without it."""
import http.client
import json
import socket
import ssl
import subprocess
import unittest

from gateway.web import LiveView, ServedBench, read_all

WRONG_USE = 2


class Tls(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.bench = cls.enterClassContext(ServedBench())
        cls.certificate, cls.key = cls.make_certificate("one")
        cls.bench.serve("--tls-certificate", cls.certificate, "--tls-key", cls.key, "--http-name", "Bench-7.example")

    @classmethod
    def make_certificate(cls, name, *options):
        certificate, key = cls.bench.folder / f"{name}.pem", cls.bench.folder / f"{name}.key"
        subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-keyout", key, "-out",
                        certificate, "-days", "2", "-subj", "/CN=bench-7.example", "-addext",
                        "subjectAltName=DNS:bench-7.example,IP:127.0.0.1", *(options or ["-nodes"])],
                       check=True, capture_output=True, timeout=60)
        return certificate, key

    def context(self, **limits):
        context = ssl.create_default_context(cafile=str(self.certificate))
        for name, value in limits.items():
            setattr(context, name, value)
        return context

    def connect(self, context=None):
        plain = socket.create_connection(("127.0.0.1", self.bench.port), timeout=10)
        return (context or self.context()).wrap_socket(plain, server_hostname="127.0.0.1")

    def ask(self, path, host=None, **headers):
        connection = http.client.HTTPSConnection("127.0.0.1", self.bench.port, timeout=10, context=self.context())
        try:
            connection.request("GET", path, headers={**headers, **({"Host": host} if host else {})})
            answer = connection.getresponse()
            return answer.status, answer.read()
        finally:
            connection.close()

    def test_answers_and_frames_come_over_tls(self):
        self.assertEqual(self.bench.url.scheme, "https")
        status, body = self.ask("/api/frame")
        self.assertEqual((status, json.loads(body)["ok"]), (200, True))
        with LiveView(self.bench.port, connection=self.connect(), Origin=f"https://127.0.0.1:{self.bench.port}") as view:
            self.assertEqual(view.status, 101)
            self.assertGreater(view.frames_within(2), 20)
        self.assertEqual(len(self.ask("/page/dygraph.min.js")[1]), 131054, "larger than one record of TLS")

    def test_names_are_those_of_the_service(self):
        self.assertEqual(self.ask("/api/frame", f"bench-7.example:{self.bench.port}")[0], 200)
        self.assertEqual(self.ask("/api/frame", "bench-8.example")[0], 421)
        with LiveView(self.bench.port, connection=self.connect(), Origin=f"http://127.0.0.1:{self.bench.port}") as view:
            self.assertEqual(view.status, 403, "a page without TLS is another origin")

    def test_old_versions_and_plain_text_get_nothing(self):
        said = subprocess.run(["openssl", "s_client", "-connect", f"127.0.0.1:{self.bench.port}", "-tls1_1", "-cipher",
                               "ALL:@SECLEVEL=0"], capture_output=True, text=True, stdin=subprocess.DEVNULL, timeout=20, check=False)
        self.assertNotEqual(said.returncode, 0)
        self.assertIn("alert protocol version", said.stderr, "the service's own refusal")
        with self.bench.raw() as connection:
            connection.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            self.assertNotIn(b"200", read_all(connection))
        for version, limit in (("TLSv1.3", {"minimum_version": ssl.TLSVersion.TLSv1_3}),
                               ("TLSv1.2", {"maximum_version": ssl.TLSVersion.TLSv1_2})):
            with self.connect(self.context(**limit)) as connection:
                self.assertEqual(connection.version(), version)

    def refused(self, *options, words):
        with ServedBench() as bench:
            service = bench.start_service(*options)
            self.assertEqual(service.wait(20), WRONG_USE)
            said = bench.service_log.read_text(encoding="utf-8")
            self.assertEqual(len(said.strip().splitlines()), 1, said)
            for word in words:
                self.assertIn(word, said)
            self.assertFalse(bench.journal.exists(), "nothing was begun")

    def test_files_that_do_not_fit_are_refused(self):
        other_certificate, other_key = self.make_certificate("other")
        _, locked = self.make_certificate("locked", "-passout", "pass:secret")
        here = ("--http", "127.0.0.1:0")
        self.refused(*here, "--tls-certificate", self.certificate, words=["--tls-key", "give both"])
        self.refused(*here, "--tls-certificate", self.key, "--tls-key", self.key, words=["--tls-certificate", str(self.key)])
        self.refused(*here, "--tls-certificate", "/none.pem", "--tls-key", self.key, words=["/none.pem", "PEM"])
        self.refused(*here, "--tls-certificate", self.certificate, "--tls-key", other_key, words=["--tls-key", str(other_key)])
        self.refused(*here, "--tls-certificate", self.certificate, "--tls-key", other_certificate, words=["--tls-key", "PEM"])
        self.refused(*here, "--tls-certificate", self.certificate, "--tls-key", locked, words=["--tls-key", "without a password"])

    def test_addresses_that_others_reach_need_tls_and_users(self):
        for address in ("0.0.0.0:0", "[::]:0", "192.0.2.1:8788"):
            self.refused("--http", address, words=[address, "--tls-certificate", "--users", "127.0.0.1"])
        for address in ("8788", "localhost:8788", "127.0.0.1:99999"):
            self.refused("--http", address, words=[address, "127.0.0.1:8788"])
        self.refused("--http", f"127.0.0.1:{self.bench.port}", words=["another port", "0"])


if __name__ == "__main__":
    unittest.main()
