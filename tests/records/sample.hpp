#pragma once

#include "daemon/metrology/evaluation/unsaid.hpp"
#include "daemon/metrology/rounding.hpp"
#include "daemon/records/certificate.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sample {

using namespace stillmark;
using records::Figure;

/// A value rounded to the last place of its uncertainty.
inline Figure figure(double value, double expanded) {
    return {value, metrology::rounded(value, metrology::place_of(expanded))};
}
inline Figure uncertainty(double expanded) {
    return {expanded, metrology::rounded_uncertainty(expanded)};
}

/// What a verdict of simple acceptance within 1 rests on; of the mean of both directions nothing is judged.
inline records::Basis basis(double deviation, double expanded, std::optional<metrology::Verdict> verdict = {}) {
    records::Basis one;
    one.deviation = figure(deviation, expanded);
    one.expanded = uncertainty(expanded);
    one.k = {2, "2.00"};
    one.dof = {INFINITY, records::infinite_dof};
    one.contains = {"reference", "scatter within the readings", "resolution"};
    one.verdict = verdict;
    if (!verdict) return one;
    one.permissible = {1, "1.0"};
    one.acceptance = figure(1, expanded);
    one.outside = {0, "0.0000"};
    return one;
}

/// A certificate as a laboratory would issue it, everything in it invented: `points` pressures up and down, the first
/// half in the low range. 0 points: a certificate without a reading.
inline records::Certificate certificate(std::size_t points = 11) {
    records::Certificate one;
    one.number = "INV-2026-0001";
    one.issued_utc_us = 1'790'000'000'000'000;
    one.laboratory = {
        "Invented Pressure Laboratory", {"Street of Nothing 1", "00000 Nowhere"}, "DE", "lab@example.invalid"};
    one.customer = {"Invented Works", {"Customer Lane 2", "00000 Nowhere"}, "DE", ""};
    one.order = "order INV-77";
    one.received = "2026-09-14";
    one.procedure = "INV-P-3, edition 2";
    one.item.name = "digital gauge C";
    one.item.maker = "Invented Instruments";
    one.item.model = "invented digital gauge";
    one.item.serial = "INV-C-303";
    one.item.asset = "PT-4711";
    one.item.condition = "clean, without damage";
    one.item.mounting = "upright, connection below";
    one.item.span_low = "0";
    one.item.span_high = "1000";
    one.item.resolution = "0.01";
    one.item.reference_mark = "its connection";
    one.item.above_balance_mm = "120";
    one.item.balance_level_mark = "the engraved line on the balance's column";
    one.unit = {"bar", 1e5, "100000"};
    one.balance = "Invented dual-range balance, INV-0001";
    one.ranges = {"low", "high"};
    one.fluid = "invented white oil";
    one.standards = {
        {"balance", "Invented dual-range balance", "INV-0001", "INV-P-21 (invented)", "Invented Institute",
         "2026-01-15", "2028-01-15", "national standards, as that certificate says", ""},
        {"discs", "", "", "INV-M-17 (invented)", "Invented Institute", "2026-01-12", "2028-01-12", "", ""},
        {"piston thermometer", "", "INV-T-5", "INV-T-9 (invented)", "Invented Institute", "2025-03-02", "2026-03-02",
         "", "returned from calibration too late (A. Admin)"},
    };
    one.surroundings = {{"air temperature", "degC", {21.4, "21.4"}, {21.6, "21.6"}, {0.58, "0.58"}, true},
                        {"air pressure", "hPa", {968, "968"}, {968, "968"}, {2, "2.0"}, true},
                        {"humidity", "%", {45, "45"}, {45, "45"}, {12, "12"}, false}};
    records::Results found;
    found.run = "R1";
    found.condition = "as found";
    found.begin_utc_us = one.issued_utc_us - 7'200'000'000;
    found.end_utc_us = one.issued_utc_us - 3'600'000'000;
    found.sequence = "Demo sequence: 11 points up and down, no standard's";
    found.preloads = 1;
    found.wait_s = 30;
    found.window_s = "3.0";
    found.specification = metrology::as_it_is("0.1 % of span");
    found.decision = metrology::DecisionRule{};
    found.decision_words = metrology::words(*found.decision);
    found.verdict = metrology::Verdict::pass;
    found.verdict_covers = metrology::as_it_is("all points, rising and falling");
    std::int64_t mark = 0;
    for (const bool rising : {true, false}) {
        for (const bool low : {rising, !rising}) {
            records::Table table;
            table.range = low ? "low" : "high";
            table.direction = rising ? bench::Direction::rising : bench::Direction::falling;
            const std::size_t half = points / 2;
            const std::size_t first = low ? 0 : half, last = low ? half : points;
            for (std::size_t step = first; step < last; ++step) {
                const std::size_t i = rising ? step : first + last - 1 - step;
                const double p =
                    2 + 898.0 * static_cast<double>(i) / static_cast<double>(std::max<std::size_t>(points - 1, 1));
                const double expanded = 0.012 + 3.5e-5 * p;
                const double off = 4e-4 * p + 0.05 * std::sin(p / 90) + (rising ? -0.02 : 0.02);
                records::Row row;
                row.mark = ++mark;
                row.utc_us = found.begin_utc_us + mark * 60'000'000;
                row.target = fmt::format("{:.0f} bar", p);
                row.reference = figure(p, expanded);
                row.indication = figure(p + off, expanded);
                row.deviation = figure(off, expanded);
                row.status = "sighted";
                table.rows.push_back(row);
            }
            if (!table.rows.empty()) found.tables.push_back(std::move(table));
        }
    }
    for (std::size_t i = 0; i < points; ++i) {
        const double p = 2 + 898.0 * static_cast<double>(i) / static_cast<double>(std::max<std::size_t>(points - 1, 1));
        const double expanded = 0.03 + 3.5e-5 * p;
        const double off = 4e-4 * p + 0.05 * std::sin(p / 90);
        records::Summary at;
        at.target = fmt::format("{:.0f} bar", p);
        at.reference = figure(p, expanded);
        at.rising = basis(off - 0.02, expanded, metrology::Verdict::pass);
        at.falling = basis(off + 0.02, expanded, metrology::Verdict::pass);
        at.mean = basis(off, expanded);
        at.mean->contains.emplace_back("hysteresis");
        at.hysteresis = figure(0.04, expanded);
        at.verdict = metrology::Verdict::pass;
        found.points.push_back(at);
    }
    if (points > 2)
        found.overlaps.push_back({"110 bar",
                                  bench::Direction::rising,
                                  1,
                                  figure(0.09, 0.01),
                                  figure(0.088, 0.01),
                                  uncertainty(0.0052),
                                  2,
                                  {0.38, "0.38"},
                                  bench::OverlapFinding::agree});
    found.checks = {{"leak", metrology::as_it_is("0.02 bar within 60 s at 400 bar; at most 0.1 bar"), true, "", ""}};
    one.results.push_back(std::move(found));
    one.signatories = {{"operator", "O. Operator (invented)", true, one.issued_utc_us - 3'600'000'000}};
    one.proof.journal_number = 123456;
    one.proof.journal_digest = std::string(64, 'a');
    one.proof.bench_revision = "0123456789abcdef";
    one.proof.build = "0.1.0";
    return one;
}

/// The same, signed by a reviewer.
inline records::Certificate signed_certificate(std::size_t points = 11) {
    records::Certificate one = certificate(points);
    one.draft = false;
    one.signatories.push_back({"reviewer", "R. Reviewer (invented)", true, one.issued_utc_us});
    one.proof.key_fingerprint = "00112233aabbccdd";
    return one;
}

} // namespace sample
