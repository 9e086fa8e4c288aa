#include "daemon/cli/propagate_result.hpp"

#include "daemon/metrology/propagation/coverage_factor.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace stillmark::cli {

namespace {

using nlohmann::json;

/// From here on the terms of second order are worth a word.
constexpr double noticeable = 0.01;

json number(double x) {
    return std::isfinite(x) ? json(x) : json(nullptr);
}

json interval(const metrology::Interval& of) {
    return json::array({number(of.low), number(of.high)});
}

json matrix(const std::vector<double>& values, std::size_t size) {
    json rows = json::array();
    for (std::size_t i = 0; i < size; ++i) {
        json row = json::array();
        for (std::size_t j = 0; j < size; ++j)
            row.push_back(number(values[i * size + j]));
        rows.push_back(std::move(row));
    }
    return rows;
}

void judge(OutputResult& out, const PropagateTask& task, const metrology::MonteCarloResult& trials) {
    const auto& first = out.first_order;
    if (!first.defined)
        out.notes.emplace_back("a derivative is no finite number at the estimates: first order says nothing here");
    if (first.defined && out.second_order && first.u > 0 &&
        (std::abs(out.second_order->u / first.u - 1) > noticeable ||
         std::abs(out.second_order->y - first.y) > 0.1 * first.u))
        out.notes.emplace_back("the model is not linear over the inputs' uncertainties: see the second order");
    if (first.defined && first.u == 0)
        out.notes.emplace_back(
            "first order finds no uncertainty: the model has no slope at the estimates, or its inputs "
            "are exact");
    if (!out.trials) return;
    if (trials.adaptive && !trials.stable)
        out.notes.push_back(
            fmt::format("{} trials did not become stable to the digits wanted (a heavy tail, or one digit "
                        "too many): first order is not judged by them",
                        trials.trials));
    else if (first.defined)
        out.validation = metrology::validate(first.y, out.expanded, first.u, out.trials->shortest, task.digits);
    if (trials.undefined > 0)
        out.notes.push_back(
            fmt::format("{} of {} trials gave no finite number and are left out", trials.undefined, trials.trials));
}

json first_order_json(const PropagateTask& task, const OutputResult& out) {
    const auto& first = out.first_order;
    json budget = json::array();
    std::vector<std::size_t> order(first.inputs.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&first](std::size_t a, std::size_t b) {
        return std::abs(first.inputs[a].contribution) > std::abs(first.inputs[b].contribution);
    });
    for (const std::size_t i : order) {
        const auto& known = task.model.inputs[i].known;
        const auto& one = first.inputs[i];
        if (one.coefficient == 0 && !(known.u > 0)) continue;
        budget.push_back({{"input", task.model.inputs[i].name},
                          {"value", number(known.value)},
                          {"u", number(known.u)},
                          {"dof", number(known.dof)},
                          {"distribution", word(known.distribution)},
                          {"sensitivity", number(one.coefficient)},
                          {"contribution", number(one.contribution)},
                          {"share", number(one.share)}});
    }
    const json ends = first.defined ? interval({first.y - out.expanded, first.y + out.expanded}) : json(nullptr);
    return {{"y", number(first.y)},
            {"u", number(first.u)},
            {"dof", number(first.dof)},
            {"k", number(out.k)},
            {"U", number(out.expanded)},
            {"coverage", task.coverage},
            {interval_key(task.coverage), ends},
            {"budget", std::move(budget)},
            {"second_order", out.second_order
                                 ? json{{"y", number(out.second_order->y)}, {"u", number(out.second_order->u)}}
                                 : json(nullptr)}};
}

json trials_json(const PropagateTask& task, const PropagateResult& result, const OutputResult& out) {
    if (!task.trials_wanted) return nullptr;
    json all = {{"trials", result.trials.trials},
                {"undefined", result.trials.undefined},
                {"adaptive", result.trials.adaptive},
                {"seed", result.seed},
                {"validated", nullptr},
                {"mean", nullptr},
                {"u", nullptr},
                {interval_key(task.coverage) + "_shortest", nullptr}};
    all["stable"] = result.trials.adaptive ? json(result.trials.stable) : json(nullptr);
    if (!out.trials) return all;
    all["mean"] = number(out.trials->mean);
    all["u"] = number(out.trials->u);
    all[interval_key(task.coverage) + "_shortest"] = interval(out.trials->shortest);
    all[interval_key(task.coverage) + "_symmetric"] = interval(out.trials->symmetric);
    if (!out.validation) return all;
    all["validated"] = out.validation->validated;
    all["tolerance"] = number(out.validation->tolerance);
    all["d_low"] = number(out.validation->off_low);
    all["d_high"] = number(out.validation->off_high);
    return all;
}

} // namespace

std::string interval_key(double coverage) {
    return fmt::format("interval{:g}", 100 * coverage);
}

PropagateResult propagate_task(const PropagateTask& task, std::uint64_t seed, const metrology::BlockRunner& runner) {
    PropagateResult result;
    result.seed = seed;
    metrology::Propagated first = metrology::propagate(task.model);
    result.correlation = std::move(first.correlation);
    if (task.trials_wanted) {
        metrology::MonteCarloSettings settings;
        settings.coverage = task.coverage;
        settings.digits = task.digits;
        settings.seed = seed;
        settings.trials = task.trials;
        result.trials = metrology::monte_carlo(metrology::trials_of(task.model), settings, runner);
        result.complete = result.trials.trouble.empty();
    }
    for (std::size_t i = 0; i < first.outputs.size(); ++i) {
        OutputResult out;
        out.first_order = std::move(first.outputs[i]);
        out.k = metrology::coverage_factor(task.coverage, out.first_order.dof);
        out.expanded = out.k * out.first_order.u;
        out.second_order = metrology::second_order(task.model, i);
        if (i < result.trials.outputs.size()) out.trials = result.trials.outputs[i];
        judge(out, task, result.trials);
        result.complete = result.complete && out.first_order.defined;
        result.outputs.push_back(std::move(out));
    }
    return result;
}

json as_json(const PropagateTask& task, const PropagateResult& result) {
    json notes = task.notes;
    if (!result.trials.trouble.empty()) notes.push_back(result.trials.trouble);
    const auto whole = [&](std::size_t i) {
        json one = first_order_json(task, result.outputs[i]);
        one["model"] = task.formulas[i];
        one["monte_carlo"] = trials_json(task, result, result.outputs[i]);
        one["notes"] = result.outputs[i].notes;
        return one;
    };
    if (task.output_names.size() == 1 && task.output_names.front().empty()) {
        json one = whole(0);
        for (const std::string& note : result.outputs.front().notes)
            notes.push_back(note);
        one["notes"] = std::move(notes);
        if (!task.title.empty()) one["title"] = task.title;
        return one;
    }
    json all = {{"outputs", json::object()}, {"notes", std::move(notes)}};
    for (std::size_t i = 0; i < result.outputs.size(); ++i)
        all["outputs"][task.output_names[i]] = whole(i);
    const std::size_t size = result.outputs.size();
    all["correlation"] = {
        {"order", task.output_names},
        {"first_order", matrix(result.correlation, size)},
        {"monte_carlo", result.trials.outputs.empty() ? json(nullptr) : matrix(result.trials.correlation, size)}};
    if (!task.title.empty()) all["title"] = task.title;
    return all;
}

} // namespace stillmark::cli
