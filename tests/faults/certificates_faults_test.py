"""Deliberate faults on the way from a run to its certificate: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

RULES, STANDARDS = "daemon/bench/certificates.cpp", "daemon/bench/standards.cpp"
HEALTH = "daemon/bench/health.cpp"
GATES, RECORDS_GATES = "daemon/bench/gates.cpp", "daemon/records/gates.cpp"
WORDS, RECORDS_WORDS, LOCAL_TIME = "daemon/metrology/sentence.cpp", "daemon/records/words.cpp", "daemon/records/local_time.cpp"
EVALUATION, CONTENT = "daemon/bench/run_evaluation.cpp", "daemon/records/content.cpp"
MARKS, FIGURES = "daemon/bench/run_marks.cpp", "daemon/records/basis_figures.cpp"
ROUNDING, REQUESTS = "daemon/metrology/rounding.cpp", "daemon/people/roles.cpp"


class Certificates(fault.Faults):
    FAULTS = [
        Fault("whoever worked at the run signs", RULES, "if (run != nullptr && worked_at(state, *run, by))", "if (false)", "bench",
              "Certificates.*"),
        Fault("a capital letter makes another person", RULES,
              "plain.push_back(static_cast<char>(std::tolower(static_cast<unsigned char>(one))));", "plain.push_back(one);",
              "bench", "Certificates.*"),
        Fault("an older edition is signed", RULES, "if (draft->draft.edition != signature.edition)", "if (false)", "bench",
              "Certificates.*"),
        Fault("signed though something lacks", RULES, "if (!lacking.empty()) return refused(english(lacking.front()));", "", "bench",
              "Certificates.*"),
        Fault("an unbracketed mark is overlooked", GATES, "mark.status == MarkStatus::unbracketed && !mark.counts() &&", "false &&",
              "bench", "Certificates.*"),
        Fault("an expired standard passes", GATES, "            if (!is_allowed(state_, run_.id, *standard))\n",
              "            if (false)\n", "bench", "Certificates.*"),
        Fault("a customer without an address", GATES, "return line.empty(); }))", "return line == \"x\"; }) && !lines.empty())", "bench",
              "Gates.*"),
        Fault("two customers on one certificate", GATES, "other.customer == first.customer &&", "", "bench", "Gates.*"),
        Fault("two addresses on one certificate", GATES, "other.customer_address == first.customer_address &&", "", "bench", "Gates.*"),
        Fault("a wrong approach passes", GATES, "if (mark.counts() && !mark.taken.flags.empty() &&", "if (false &&", "bench", "Gates.*"),
        Fault("a void mark's approach holds", GATES, "if (mark.counts() && !mark.taken.flags.empty() &&",
              "if (!mark.taken.flags.empty() &&", "bench", "Gates.*"),
        Fault("ranges disagree and pass", GATES, "if (proof.finding() == OverlapFinding::differ)", "if (false)", "bench",
              "Gates.*"),
        Fault("a coarse instrument speaks against the ranges", GATES, "if (proof.finding() == OverlapFinding::differ)", "if (proof.en > 1)", "bench",
              "Gates.*"),
        Fault("what the resolution hides is a finding", "daemon/bench/run_evaluation.hpp",
              "if (!fine_enough) return OverlapFinding::too_coarse;", "", "bench", "Gates.*", ["daemon/bench/gates.cpp"]),
        Fault("poor health passes", GATES, "if (judged.judgement.verdict == metrology::HealthVerdict::poor)\n            list_", "if (false)\n            list_", "bench",
              "Gates.*"),
        Fault("health of a later bench file", GATES, "judge_health(state_, entry, run_.bench.get())", "judge_health(state_, entry)",
              "bench", "Gates.*"),
        Fault("health after the run", GATES, "else if (one.utc_us <= run_.ended_utc_us)", "else", "bench", "Gates.*"),
        Fault("one override for all of its kind", GATES, "one.run == gate.run && one.subject == gate.subject &&",
              "one.run == gate.run &&", "bench", "Gates.*"),
        Fault("one override for every instrument", GATES, "one.instrument == instrument;", "true;", "bench", "Gates.*"),
        Fault("a customer is overridden", GATES, "if (!gate.overridable) return refused(", "if (false) return refused(",
              "bench", "Gates.*"),
        Fault("who worked at the run overrides", GATES, "if (run != nullptr && worked_at(state, *run, press.by))", "if (false)", "bench",
              "Gates.*"),
        Fault("a poor range starts a run", HEALTH, "    if (reason.empty()) {\n        std::string found;",
              "    if (false) {\n        std::string found;", "bench", "BalanceHealth.*"),
        Fault("what was stated first of a sign decides", HEALTH, "latest[{state.health[i].range, state.health[i].sign}] = i;",
              "latest.emplace(std::pair(state.health[i].range, state.health[i].sign), i);", "bench", "BalanceHealth.*"),
        Fault("a start's override without a name", HEALTH, 'if (press.by.empty()) return malformed("an override has', 'if (false) return malformed("an override has',
              "bench", "BalanceHealth.*"),
        Fault("a reason for nothing is kept", HEALTH, "if (reason.empty()) return std::nullopt;", "return std::nullopt;", "bench",
              "BalanceHealth.*"),
        Fault("a start's override is not printed", CONTENT, "for (const bench::Gate& gate : bench::overridden_at_start(state, *run))",
              "for (const bench::Gate& gate : std::vector<bench::Gate>())", "records", "Content.*"),
        Fault("a start's override is a reviewer's finding", RECORDS_GATES, "if (!one.at_bench) list", "list", "records", "Content.*"),
        Fault("unprintable characters pass", RECORDS_GATES, "if (found.empty()) continue;", "continue;", "records", "Content.*"),
        Fault("another text under the same override", RECORDS_GATES, 'seal::hex(seal::sha256(*text))', 'seal::hex(seal::sha256(""))',
              "records", "Content.*"),
        Fault("an override is not printed", CONTENT, "one->overridden.insert(one->overridden.end(), more.begin(), more.end());", "",
              "records", "Content.*"),
        Fault("another instrument's words of a check", CONTENT, "check_words(check.recorded, run_.bench->checks, instrument_)",
              "metrology::as_it_is(check.recorded.words)", "records", "Content.*"),
        Fault("sentences about fits on paper", CONTENT, "if (one.topic == metrology::Topic::results)",
              "if (one.topic != metrology::Topic::readings)", "records", "Content.*"),
        Fault("how a rule is known on paper", CONTENT, "if (finding.source.text.empty() || finding.source.provenance != metrology::Provenance::read)",
              "if (false)", "records", "Content.*"),
        Fault("method data taken for compared", CONTENT, "out.not_compared || one.topic == metrology::Topic::provenance",
              "out.not_compared", "records", "Content.*"),
        Fault("a person's words translated", WORDS, "if (value.kind == Sentence::Value::Kind::text) return value.text;",
              "if (value.kind == Sentence::Value::Kind::text) return how.number(value.text);", "records", "Content.*"),
        Fault("a value searched for gaps", WORDS, "text += shown(value, how);", "text += rendered({shown(value, how), one.values}, how);",
              "metrology", "Sentence.*"),
        Fault("a decimal point in German", RECORDS_WORDS, "else if (c == '.' && language_ == Language::german)", "else if (false)", "records",
              "Content.*"),
        Fault("local time without its offset", LOCAL_TIME, "known->get_info(at).offset : std::chrono::seconds(0)",
              "std::chrono::seconds(0) : std::chrono::seconds(0)", "records", "LocalTime.*"),
        Fault("an operator overrides", REQUESTS, '{"override", false, true, false}', '{"override", true, true, false}', "people",
              "Roles.*"),
        Fault("a signed certificate is drafted over", RULES, "if (one.signature && one.draft.replaces == request.replaces)",
              "if (false)", "bench", "Certificates.*"),
        Fault("a draft is amended", RULES, "if (old == nullptr || !old->signature)", "if (old == nullptr)", "bench", "Certificates.*"),
        Fault("a standard's last day is one too few", STANDARDS, "utc_us + within_us >= one.valid_until_utc_us",
              "utc_us + within_us >= one.valid_until_utc_us - 86'400'000'000", "bench", "Standards.*"),
        Fault("days that no month has", STANDARDS, "if (!whole.ok()) return std::nullopt;", "", "bench", "Dates.*"),
        Fault("an accepted mark does not count", EVALUATION, "mark.counts() ? \"\" :", "false ? \"\" :", "bench", "Certificates.*"),
        Fault("a void mark in the table", MARKS, "if (!mark.counts()) continue;", "", "records", "Content.*"),
        Fault("an accepted mark in place of its repeat", MARKS, "standing == nullptr || is_proven(mark) || !is_proven(*standing)",
              "standing == nullptr", "records", "Content.*"),
        Fault("the later mark stands whatever it is", MARKS, "standing == nullptr || is_proven(mark) || !is_proven(*standing)",
              "true", "records", "Content.*"),
        Fault("verdicts that do not follow from two digits", FIGURES, "further <= most_further_digits && !figures_agree(out, *rule)",
              "further < 0", "records", "BasisFigures.*"),
        Fault("figures of another instrument's unit", CONTENT, "scale_(1 / instrument_.unit.pascals)", "scale_(1)", "records", "Content.*"),
        Fault("ties go up", ROUNDING, "tie ? odd : rest.front() >= '5'", "rest.front() >= '5'", "metrology", "Rounding.*"),
        Fault("digits are cut off", ROUNDING, "    if (!up) return;\n", "    return;\n", "metrology", "Rounding.*"),
        Fault("a digit too many beside 0.0996", ROUNDING, "    round_to(number, place);\n    // 0.0996", "    // 0.0996", "metrology",
              "Rounding.*"),
        Fault("an administrator signs", REQUESTS, '{"sign", false, true, false}', '{"sign", false, true}', "people", "Roles.*"),
    ]


if __name__ == "__main__":
    unittest.main()
