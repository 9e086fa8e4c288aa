#include "daemon/cli/blocks_on_threads.hpp"
#include "daemon/cli/columns.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/propagate_result.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <iterator>
#include <memory>
#include <numeric>

namespace stillmark::cli {

namespace {

constexpr std::size_t report_columns = 100;

struct PropagateRequest {
    std::string file;
    bool as_json = false;
    std::uint64_t seed = 1;
    unsigned threads = all_cores();
};

/// To `digits` significant digits of u and no more than that: 127.7322 with 0.0711 is 127.732.
std::string rounded_to(double x, double u, int digits) {
    if (!std::isfinite(x)) return "unknown";
    if (!(u > 0) || !std::isfinite(u)) return fmt::format("{:.7g}", x);
    const int exponent = static_cast<int>(std::floor(std::log10(u))) - digits + 1;
    const int size = x == 0 ? exponent : static_cast<int>(std::floor(std::log10(std::abs(x))));
    // Beside very large and very small numbers, decimals would be a row of zeros.
    const bool fixed = std::max(size, exponent) < 12 && std::max(size, exponent) >= -4;
    std::string text = fixed ? fmt::format("{:.{}f}", x, std::clamp(-exponent, 0, 16))
                             : fmt::format("{:.{}e}", x, std::clamp(size - exponent, 0, 16));
    const bool zero = text.find_first_of("123456789") == std::string::npos;
    return zero && text.front() == '-' ? text.substr(1) : text;
}

std::string dof_text(double dof) {
    return std::isinf(dof) ? "infinite" : fmt::format("{:.1f}", dof);
}

void print_budget(const PropagateTask& task, const OutputResult& out) {
    Table table;
    table.add_column("input");
    for (const char* heading : {"value", "u", "dof", "sensitivity", "contribution", "share"})
        table.add_column(heading, Table::Align::right);
    const auto& lines = out.first_order.inputs;
    std::vector<std::size_t> order(lines.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&lines](std::size_t a, std::size_t b) {
        return std::abs(lines[a].contribution) > std::abs(lines[b].contribution);
    });
    for (const std::size_t i : order) {
        const auto& known = task.model.inputs[i].known;
        if (!(known.u > 0) || lines[i].coefficient == 0) continue;
        const std::string unit = task.input_units[i].empty() ? "" : " " + printable(task.input_units[i]);
        table.add_row({printable(task.model.inputs[i].name), rounded_to(known.value, known.u, 3) + unit,
                       fmt::format("{:.3g}", known.u), dof_text(known.dof), fmt::format("{:.4g}", lines[i].coefficient),
                       fmt::format("{:.3g}", lines[i].contribution), fmt::format("{:.1f} %", 100 * lines[i].share)});
    }
    for (const auto& line : table.lines(report_columns))
        fmt::print("  {}\n", line);
}

void print_output(const PropagateTask& task, const PropagateResult& result, std::size_t i) {
    const OutputResult& out = result.outputs[i];
    const auto& first = out.first_order;
    const double u = first.u;
    const int digits = task.digits;
    const std::string percent = fmt::format("{:g} %", 100 * task.coverage);
    fmt::print("{} = {}\n", task.output_names[i].empty() ? "y" : printable(task.output_names[i]),
               cut(printable(task.formulas[i]), report_columns));
    if (first.defined)
        fmt::print("  First order:  {}  u = {:.{}g}  degrees of freedom {}\n"
                   "                {} interval [{}, {}], U = {:.{}g} (k = {:.3f})\n",
                   rounded_to(first.y, u, digits + 1), u, digits + 1, dof_text(first.dof), percent,
                   rounded_to(first.y - out.expanded, u, digits + 1), rounded_to(first.y + out.expanded, u, digits + 1),
                   out.expanded, digits + 1, out.k);
    else
        fmt::print("  First order:  {:.7g}, without an uncertainty\n", first.y);
    if (out.second_order)
        fmt::print("  Second order: {}  u = {:.{}g}\n",
                   rounded_to(out.second_order->y, out.second_order->u, digits + 1), out.second_order->u, digits + 1);
    if (out.trials) {
        const auto& t = *out.trials;
        fmt::print("  Monte Carlo:  {}  u = {:.{}g}  ({} trials, seed {})\n"
                   "                shortest {} interval [{}, {}]; of equal tails [{}, {}]\n",
                   rounded_to(t.mean, t.u, digits + 1), t.u, digits + 1, result.trials.trials, result.seed, percent,
                   rounded_to(t.shortest.low, t.u, digits + 1), rounded_to(t.shortest.high, t.u, digits + 1),
                   rounded_to(t.symmetric.low, t.u, digits + 1), rounded_to(t.symmetric.high, t.u, digits + 1));
    }
    if (out.validation)
        fmt::print("  First order is {}validated: the ends differ by {:.2g} and {:.2g}, allowed is {:.2g}\n",
                   out.validation->validated ? "" : "NOT ", out.validation->off_low, out.validation->off_high,
                   out.validation->tolerance);
    if (first.defined) print_budget(task, out);
    for (const std::string& note : out.notes)
        fmt::print("  Note: {}\n", note);
}

void print_correlation(const PropagateTask& task, const PropagateResult& result) {
    const std::size_t size = task.output_names.size();
    if (size < 2) return;
    Table table;
    table.add_column("correlation");
    for (const std::string& name : task.output_names)
        table.add_column(printable(name), Table::Align::right, 1);
    for (std::size_t i = 0; i < size; ++i) {
        std::vector<std::string> row{printable(task.output_names[i])};
        for (std::size_t j = 0; j < size; ++j)
            row.push_back(fmt::format("{:.3f}", result.correlation[i * size + j]));
        table.add_row(std::move(row));
    }
    for (const auto& line : table.lines(report_columns))
        fmt::print("{}\n", line);
}

void propagate(const PropagateRequest& request, int& exit_code) {
    const auto refuse = [&exit_code, &request](const std::string& words) {
        fmt::print(stderr, "stillmark: {}: {}\n", request.file, words);
        exit_code = code(Exit::wrong_use);
    };
    std::ifstream file(request.file, std::ios::binary);
    const std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
    if (!file) return refuse("the file cannot be read; give one that is there");
    const auto task = read_propagate_file(text);
    if (!task) return refuse(task.error().words);
    const PropagateResult result = propagate_task(*task, request.seed, on_threads(request.threads));
    if (!result.complete) exit_code = code(Exit::answer_is_no);
    if (request.as_json) {
        fmt::print("{}\n", as_json(*task, result).dump(2, ' ', false, nlohmann::json::error_handler_t::replace));
        return;
    }
    if (!task->title.empty()) fmt::print("{}\n\n", printable(task->title));
    for (std::size_t i = 0; i < result.outputs.size(); ++i) {
        print_output(*task, result, i);
        fmt::print("\n");
    }
    print_correlation(*task, result);
    for (const std::string& note : task->notes)
        fmt::print("Note: {}\n", note);
    if (!result.trials.trouble.empty()) fmt::print("Note: {}\n", result.trials.trouble);
}

} // namespace

void add_propagate(CLI::App& app, int& exit_code) {
    CLI::App* command = app.add_subcommand(
        "propagate",
        "Uncertainty of a formula of measured quantities, by the GUM and by Monte Carlo; needs no service");
    const auto request = std::make_shared<PropagateRequest>();
    command->add_option("FILE", request->file, "Model and inputs, JSON")->required();
    command->add_flag("--json", request->as_json, "Print JSON");
    command->add_option("--seed", request->seed, "Seed of the trials: the same seed gives the same digits")
        ->capture_default_str();
    command->add_option("--threads", request->threads, "Threads for the trials (default: all cores)")
        ->check(CLI::Range(1U, 256U));
    command->callback([request, &exit_code] { propagate(*request, exit_code); });
}

} // namespace stillmark::cli
