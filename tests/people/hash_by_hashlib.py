"""The hash of a password by Python's own scrypt: "make PASSWORD" prints one, "check PASSWORD HASH" says yes or no.

A password comes as hexadecimal digits, because it may be any text."""
import base64
import hashlib
import hmac
import os
import re
import sys


def derived(password, salt, ln, r, p, length):
    return hashlib.scrypt(password, salt=salt, n=1 << ln, r=r, p=p, dklen=length, maxmem=128 << 20)


def unpadded(data):
    return base64.b64encode(data).decode().rstrip("=")


def padded(text):
    return base64.b64decode(text + "=" * (-len(text) % 4), validate=True)


def main():
    password = bytes.fromhex(sys.argv[2])
    if sys.argv[1] == "make":
        salt = os.urandom(16)
        print(f"$scrypt$ln=14,r=8,p=1${unpadded(salt)}${unpadded(derived(password, salt, 14, 8, 1, 32))}")
        return
    ln, r, p, salt, key = re.fullmatch(r"\$scrypt\$ln=(\d+),r=(\d+),p=(\d+)\$([A-Za-z0-9+/]+)\$([A-Za-z0-9+/]+)",
                                       sys.argv[3]).groups()
    key = padded(key)
    same = hmac.compare_digest(derived(password, padded(salt), int(ln), int(r), int(p), len(key)), key)
    print("yes" if same else "no")


main()
