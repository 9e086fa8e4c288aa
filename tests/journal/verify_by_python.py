"""A second verification of a journal, by daemon/journal/FORMAT.md alone: python3 verify_by_python.py JOURNAL [KEY.pub]

Says "as written" with the numbers of links and checkpoints, or the first thing that is not; exit status 0 or 1."""
import hashlib
import sqlite3
import struct
import subprocess
import sys
import tempfile


def number(n):
    return struct.pack("<q", n)


def counted(data):
    return number(len(data)) + data


def signature_fits(key, message, signature):
    spki = bytes.fromhex("302a300506032b6570032100") + key  # RFC 8410: an Ed25519 key as SubjectPublicKeyInfo
    with tempfile.NamedTemporaryFile() as k, tempfile.NamedTemporaryFile() as m, tempfile.NamedTemporaryFile() as s:
        for file, data in ((k, spki), (m, message), (s, signature)):
            file.write(data)
            file.flush()
        return subprocess.run(["openssl", "pkeyutl", "-verify", "-rawin", "-pubin", "-keyform", "DER", "-inkey", k.name,
                               "-in", m.name, "-sigfile", s.name], capture_output=True, check=False).returncode == 0


def verify(path, wanted_key=None):
    base = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    base.text_factory = bytes
    meta = base.execute("SELECT key, value FROM meta ORDER BY key").fetchall()
    before = hashlib.sha256(b"stillmark journal 2 meta\n" + b"".join(counted(k) + counted(v) for k, v in meta)).digest()
    identity = bytes.fromhex(dict(meta)[b"identity"].decode())
    links = base.execute("SELECT link, last, unconfirmed, digest FROM links ORDER BY link").fetchall()
    assert links[0] == (0, 0, 0, before), "link 0"
    signed = {row[0]: row for row in base.execute("SELECT link, utc_us, key, signature FROM checkpoints")}
    rows = sorted([(n, b"E" + number(n) + number(at) + counted(body), tag)
                   for n, at, body, tag in base.execute("SELECT number, at_us, body, tag FROM events")]
                  + [(n, b"B" + number(n) + number(channel) + counted(columns), tag)
                     for n, channel, columns, tag in base.execute("SELECT first_number, channel, columns, tag FROM blocks")])
    at, checkpoints = 0, 0
    for i, (link, last, unconfirmed, digest) in enumerate(links[1:], 1):
        assert link == i, f"link {i}"
        sha = hashlib.sha256(b"stillmark journal 2 link\n" + before)
        if link - 1 in signed:
            which, utc_us, key, signature = signed.pop(link - 1)
            message = (b"stillmark journal 2 checkpoint\n" + identity + number(which) + number(links[i - 1][1]) + before
                       + number(utc_us))
            assert wanted_key in (None, key) and signature_fits(key, message, signature), f"checkpoint {which}"
            sha.update(b"C" + number(which) + number(utc_us) + key + signature)
            checkpoints += 1
        while at < len(rows) and rows[at][0] <= last:
            _, row, tag = rows[at]
            assert tag == hashlib.sha256(row).digest()[:4], f"row {rows[at][0]}"
            sha.update(row + bytes([len(tag)]) + tag)
            at += 1
        sha.update(b"L" + number(link) + number(last) + number(unconfirmed))
        assert sha.digest() == digest, f"link {link}"
        before = digest
    assert at == len(rows) and not signed, "something stands after the last link"
    return len(links), checkpoints, links[-1][1], before.hex()


if __name__ == "__main__":
    try:
        pem_key = None
        if len(sys.argv) > 2:
            pem_key = subprocess.run(["openssl", "pkey", "-pubin", "-in", sys.argv[2], "-outform", "DER"],
                                     capture_output=True, check=True).stdout[-32:]
        print("as written: {} links, {} checkpoints, digest at number {}: {}".format(*verify(sys.argv[1], pem_key)))
    except AssertionError as difference:
        sys.exit(f"not as written: {difference}")
