"""Deliberate faults of digests, signatures and key files: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

DIGEST, KEY, FILE = "daemon/seal/digest.cpp", "daemon/seal/key.cpp", "daemon/seal/whole_file.cpp"


class Seal(fault.Faults):
    FAULTS = [
        Fault("a digest that goes on", DIGEST,
              "    must(EVP_DigestInit_ex2(context_.get(), algorithm(), nullptr));\n    return digest;",
              "    return digest;", "seal", "Sha256.*"),
        Fault("several texts for the same bytes", DIGEST, "(held & ((1U << bits) - 1U)) != 0", "false", "seal", "Base64.*"),
        Fault("every signature is good", KEY,
              "EVP_DigestVerify(context.get(), signature.data(), signature.size(), message.data(), message.size()) == 1",
              "EVP_DigestVerify(context.get(), signature.data(), signature.size(), message.data(), message.size()) >= 0",
              "seal", "PublicKey.*"),
        Fault("keys that everybody may read", FILE, "(found.st_mode & 077U) != 0", "(found.st_mode & 001U) != 0", "seal",
              "Key.OneThat*"),
        Fault("a key made anew over another file", KEY, "auto key = is_new ? make() : load(path);", "auto key = make();",
              "seal", "Key.*"),
        Fault("a file that is written over", FILE, "AT_FDCWD, path.c_str(), RENAME_NOREPLACE", "AT_FDCWD, path.c_str(), 0",
              "seal", "Key.AFile*"),
    ]


if __name__ == "__main__":
    unittest.main()
