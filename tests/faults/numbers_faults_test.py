"""Deliberate faults in what keeps a certificate number from being given twice: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

RULES, NUMBERS = "daemon/bench/certificates.cpp", "daemon/bench/numbering.cpp"
MEMORY, VERIFY = "daemon/journal/memory.cpp", "daemon/journal/verify.cpp"
LOOK = "daemon/gateway/records_look.cpp"
BACKUP, RESTORE, MANIFEST = "daemon/cli/backup_folder.cpp", "daemon/cli/restore_folder.cpp", "daemon/cli/backup_manifest.cpp"
BESIDE = "daemon/cli/verify_documents.cpp"


class Numbers(fault.Faults):
    FAULTS = [
        Fault("numbers known outside do not count", NUMBERS, "for (const auto& number : outside.taken)",
              "for (const auto& number : std::set<std::string>{})", "bench", "Numbering.*"),
        Fault("the least free number instead of one above all", NUMBERS, "highest = std::max(highest, count_in(series, number).value_or(0));",
              "if (count_in(series, number).value_or(0) == highest + 1) ++highest;", "bench", "Numbering.*"),
        Fault("a count of any length", NUMBERS, "number_in(series, count) == number", "true", "bench", "Numbering.*"),
        Fault("the last number is given again", NUMBERS, "if (highest >= most_in_series) return std::nullopt;", "", "bench", "Numbering.*"),
        Fault("a draft keeps a number that was issued elsewhere", RULES,
              "if (request.outside.issued.contains(one.draft.certificate)) continue;", "", "bench", "Numbering.*"),
        Fault("an edition is given again", RULES, "draft.edition = std::max(one.draft.edition, seen) + 1;",
              "draft.edition = one.draft.edition + 1;", "bench", "Numbering.*"),
        Fault("a certificate is amended twice", RULES,
              "if (auto wrong = objection_to_amendment(state, request.replaces)) return refused(std::move(*wrong));", "", "bench",
              "Amendments.*"),
        Fault("a second amendment is signed", RULES,
              "if (auto wrong = objection_to_amendment(state, draft->draft.replaces)) return refused(std::move(*wrong));", "",
              "bench", "Amendments.*"),
        Fault("a draft counts as an amendment", RULES, "return one.signature && one.draft.replaces == number;",
              "return one.draft.replaces == number;", "bench", "Amendments.*"),
        Fault("the memory is lowered", MEMORY, "known->get<std::int64_t>() >= count) return false;",
              "known->get<std::int64_t>() == count) return false;", "journal", "Memory.*"),
        Fault("the memory forgets what it does not know", MEMORY, "    auto memory = memory_in(path);\n    if (!memory) return memory.error();\n    json& highest",
              "    auto memory = memory_in(path + \".none\");\n    if (!memory) return memory.error();\n    json& highest", "journal", "Memory.*"),
        Fault("a memory that cannot be read is a new one", MEMORY,
              "if (!memory.is_object()) return wrong_memory(path, \"is not the JSON object that the service wrote\");",
              "if (!memory.is_object()) return memory_in(path + \".none\");", "journal", "Memory.*"),
        Fault("a memory of a later build is written over", MEMORY, "if (*version > memory_version)", "if (false)", "journal", "Memory.*"),
        Fault("a digest counts at any number", VERIFY, "FROM links WHERE last = ?\");\n    if (!links) return links.error();\n    links->bind(1, printed.number);",
              "FROM links WHERE last >= 0 OR last = ?\");\n    if (!links) return links.error();\n    links->bind(1, printed.number);", "journal", "Digests.*"),
        Fault("documents of another journal are removed", LOOK, "return held && *held;", "return true;", "gateway", "Records.*"),
        Fault("documents that are being signed are removed", LOOK, "if (folder.unrecorded && !request_.busy.contains(folder.number)) complete(folder);",
              "if (folder.unrecorded) complete(folder);", "gateway", "Records.*"),
        Fault("whatever waits gets the name", LOOK, "        if (!is_what_was_signed(folder, *one->signature))\n            return say(",
              "        if (false)\n            return say(", "gateway", "Records.*"),
        Fault("documents in their place are taken for the same", LOOK, "} else if (is_what_was_signed(target, *one->signature)) {",
              "} else if (true) {", "gateway", "Records.*"),
        Fault("a name that cannot be given is not told", LOOK,
              "if (!put) return say(Code::not_in_place, folder.number, path(folder.name), put.error().message);", "if (!put) return;",
              "gateway", "Records.*"),
        Fault("what is never recorded stays", LOOK, "if (is_of_this_journal(folder))", "if (false)", "gateway", "Records.*"),
        Fault("a draft on its way is unknown", LOOK, "folder.has_documents && !request_.busy.contains(folder.number))", "folder.has_documents)",
              "gateway", "Records.*"),
        Fault("documents are removed while nobody knows what is on record", LOOK, "if (request_.journal_failed) return;", "", "gateway",
              "Records.*"),
        Fault("what is being written is removed", LOOK, "if (request_.at_start)", "if (true)", "gateway", "Records.*"),
        Fault("unknown documents are not named", LOOK, "say(Code::unknown_signed, folder.number, path(folder.name), said ? said->replaces : \"\");",
              "", "gateway", "Records.*"),
        Fault("the memory is not raised to what is found", LOOK, "    for (const auto& number : outside)\n        raise(present, number);\n", "",
              "gateway", "Records.*"),
        Fault("what is remembered is not taken", LOOK, "look_.outside.taken.insert(bench::number_in(series, count));",
              "static_cast<void>(count);", "gateway", "Records.*"),
        Fault("an empty folder is no obstacle", LOOK, "        look_.outside.issued.insert(folder.number);\n        if (!folder.has_documents) return;",
              "        if (!folder.has_documents) return;\n        look_.outside.issued.insert(folder.number);", "gateway", "Records.*"),
        Fault("a changed document is what was signed", LOOK,
              "return digests && *digests == records::DocumentDigests{signature.pdf_sha256, signature.xml_sha256};",
              "return digests && digests->xml_sha256 == signature.xml_sha256;", "gateway", "Records.*"),
        Fault("a back-up does not say what it lacks", BACKUP, "if (!records::folder_named(here, number).has_documents &&",
              "if (false &&", "cli", "Issued.*"),
        Fault("the private key is in the back-up", BACKUP, "if (auto done = take(public_path, key_in_backup, 0644); !done) return done;",
              "if (auto done = take(request_.key, key_in_backup, 0644); !done) return done;", "cli", "Issued.*"),
        Fault("a changed file is restored", RESTORE, "else if (!(*found == file.content))\n                damaged_.push_back(",
              "else if (false)\n                damaged_.push_back(", "cli", "Issued.*"),
        Fault("a changed journal is restored", RESTORE, "if (damaged_.empty()) check_chain();", "", "cli", "Issued.*"),
        Fault("other documents are taken for those of the back-up", RESTORE,
              "else if (!(*found == file.content))\n                in_the_way_.push_back(", "else if (false)\n                in_the_way_.push_back(",
              "cli", "Issued.*"),
        Fault("any key is that of the back-up", RESTORE, "if (std::ranges::find(told->signed_by, key->fingerprint()) == told->signed_by.end())",
              "if (false)", "cli", "Issued.*"),
        Fault("a manifest leads out of its folder", MANIFEST, "return part == \"..\" || part == \".\" || part.empty();", "return false;", "cli",
              "Issued.*"),
        Fault("a document of any key is an anchor", BESIDE, "if (!is_signed) return wrong(", "if (false) return wrong(", "cli", "Issued.*"),
        Fault("documents without a signature on record pass", BESIDE, "if (one.said.journal_number <= last && !one.folder.unrecorded)",
              "if (false)", "cli", "Issued.*"),
        Fault("other documents under a known number pass", BESIDE,
              "if (one.digests != records::DocumentDigests{signature.pdf_sha256, signature.xml_sha256})", "if (false)", "cli", "Issued.*"),
    ]


if __name__ == "__main__":
    unittest.main()
