"""Deliberate faults of the journal's chain, its verification and its copies: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

ROOM = "daemon/journal/"
CHAIN, COMMIT, WRITER = ROOM + "chain.cpp", ROOM + "commit.cpp", ROOM + "writer.cpp"
VERIFY, STRETCH, COMPARE, BACKUP, LAYOUT = ROOM + "verify.cpp", ROOM + "stretch.cpp", ROOM + "compare.cpp", ROOM + "backup.cpp", ROOM + "layout.cpp"


class Journal(fault.Faults):
    FAULTS = [
        Fault("links that do not hang together", CHAIN, "add_link_head(row_, before.digest);", "add_link_head(row_, {});",
              "journal", "Chain.OfAn*"),
        Fault("an instant that no digest covers", CHAIN, "    put_little(head.data() + 9, detail);\n", "", "journal",
              "Chain.AChangedRowIs*"),
        Fault("lengths that no digest covers", CHAIN, "    put_little(head.data() + 17, static_cast<std::int64_t>(size));\n",
              "", "journal", "Chain2.*"),
        Fault("a signature that does not say when", CHAIN, "    add(bytes, link.digest);\n    add(bytes, utc_us);\n",
              "    add(bytes, link.digest);\n    add(bytes, utc_us - utc_us);\n", "journal", "Chain.ACheckpoint*"),
        Fault("the chain goes on from a commit that failed", COMMIT,
              "    chain_->begin();\n    const Link head = chain_->head();",
              "    chain_->committed();\n    chain_->begin();\n    const Link head = chain_->head();", "journal", "FailedCommit.*"),
        Fault("a failed commit that is not buried", COMMIT, "            bury_unconfirmed();\n", "", "journal", "FailedCommit.*"),
        Fault("nothing is signed in time", WRITER, "if (sign_by && Clock::now() >= *sign_by) signs = true;", "", "journal",
              "Signing.*"),
        Fault("nothing is signed at the end", WRITER, "if (sign_by && (signs || ending))", "if (sign_by && signs)", "journal",
              "Chain.OfAn*"),
        Fault("kinds of values are not looked at", STRETCH, "if (!row.is_sound || row.number", "if (row.number", "journal",
              "Chain.AValue*"),
        Fault("kinds of values are not looked at in meta", CHAIN,
              "if (rows->stored(0) != Stored::text || rows->stored(1) != Stored::text) bytes.push_back('X');", "", "journal",
              "Tampered.AnotherKind*"),
        Fault("rows after the last link pass", STRETCH,
              "            tell(told_, fmt::format(\"{}: it stands after the last link: it was added, or its link is missing\",\n"
              "                                    name_of(**row)));\n", "", "journal", "Chain.WhatStands*"),
        Fault("any key will do", STRETCH, "if (!anchors_.keys.empty() && std::ranges::none_of", "if (false && std::ranges::none_of",
              "journal", "Chain.*Key*"),
        Fault("any signature will do", STRETCH, "|| !key->accepts(message, one.signature))", ")", "journal", "Chain.ACheckpoint*"),
        Fault("any printed digest will do", STRETCH, "anchors_.printed[i].number == link.last && anchors_.printed[i].digest == link.digest",
              "anchors_.printed[i].number == link.last", "journal", "Chain.*Digest*"),
        Fault("further tables and triggers pass", VERIFY,
              "if (std::ranges::find(*expected, one) == expected->end())\n", "if (false)\n", "journal", "Chain.WhatDoes*"),
        Fault("the table meta is not covered", STRETCH, "before_.link.digest != *meta)", "false)", "journal", "Chain.AChangedTable*"),
        Fault("missing links pass", STRETCH, "        if (!follows)\n", "        if (false)\n", "journal", "Chain.AMissing*"),
        Fault("a row between two stretches is not read", STRETCH, "stretch_.after->link.last + 1 :", "stretch_.after->link.last + 2 :",
              "journal", "Chain.EveryRow*"),
        Fault("a stretch ends before its last link", STRETCH, "stretch_.to ? stretch_.to->link : INT64_MAX", "stretch_.to ? stretch_.to->link - 1 : INT64_MAX",
              "journal", "Chain.OfAn*"),
        Fault("a copy over a file that was not to be replaced", BACKUP, "if (!replace) return", "if (false) return", "journal",
              "Backup.IsOneFile*"),
        Fault("a copy over a journal that is open", BACKUP, "if (fs::exists(to + \"-wal\", error) || fs::exists(to + \"-shm\", error))",
              "if (false)", "journal", "Backup.IsOneFile*"),
        Fault("contents are not compared", COMPARE, " && std::ranges::equal(one.content, other.content)", "", "journal",
              "Compare.*"),
        Fault("an old journal loses what it counted", LAYOUT, "link_format_1(database, *chain, static_cast<std::int64_t>(*last), *unconfirmed)",
              "link_format_1(database, *chain, static_cast<std::int64_t>(*last), 0)", "journal", "Format1.*"),
    ]


if __name__ == "__main__":
    unittest.main()
