#include "daemon/gateway/journal_questions.hpp"

#include "daemon/bench/certificates.hpp"
#include "daemon/bench/event.hpp"
#include "daemon/decider/bench_json.hpp"
#include "daemon/decider/queries.hpp"
#include "daemon/gateway/certificate_office.hpp"
#include "daemon/records/issued_documents.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>
#include <filesystem>
#include <limits>

namespace stillmark::gateway {

using nlohmann::json;

namespace {

constexpr double default_last_s = 600;
constexpr std::int64_t longest_last_s = 7200;

/// Reads the query of a request; the first mistake is kept, and said once.
class Query {
  public:
    explicit Query(const HttpRequest& request) : values_(request.target.query) {}

    std::string text(const char* key) const {
        const auto found = values_.find(key);
        return found == values_.end() ? "" : found->second;
    }
    std::optional<std::int64_t> number(const char* key, std::int64_t least,
                                       std::int64_t most = std::numeric_limits<std::int64_t>::max()) {
        const auto found = values_.find(key);
        if (found == values_.end()) return std::nullopt;
        std::int64_t value = 0;
        const auto& digits = found->second;
        const auto end = std::from_chars(digits.data(), digits.data() + digits.size(), value);
        if (end.ec == std::errc() && end.ptr == digits.data() + digits.size() && value >= least && value <= most)
            return value;
        if (most == std::numeric_limits<std::int64_t>::max())
            say(fmt::format("\"{}\" is a whole number of at least {}", key, least));
        else
            say(fmt::format("\"{}\" is a whole number from {} to {}", key, least, most));
        return std::nullopt;
    }
    void say(std::string wrong) {
        if (wrong_.empty()) wrong_ = std::move(wrong);
    }
    std::optional<HttpAnswer> objection() const {
        return wrong_.empty() ? std::nullopt : std::optional(problem(400, "bad_request", wrong_));
    }

  private:
    const std::map<std::string, std::string>& values_;
    std::string wrong_;
};

/// The answer with a text of JSON, or with the sentence that stands in its place.
HttpAnswer answer_read(journal::JournalResult<std::string> text, unsigned status, const char* code) {
    if (!text) return problem(status, code, text.error().message);
    HttpAnswer answer;
    answer.body = std::move(*text);
    answer.body += '\n';
    return answer;
}

HttpOutcome on_pool(const HttpGround& ground, std::function<HttpAnswer()> work) {
    return LaterAnswer([&ground, work = std::move(work)](std::function<void(HttpAnswer)> give) {
        ground.on_pool(work, std::move(give));
    });
}

} // namespace

HttpOutcome ask_for_bench(const HttpRequest&, const HttpGround& ground) {
    return LaterAnswer([&ground](const std::function<void(HttpAnswer)>& give) {
        ground.on_deciding_thread([give, pool = ground.on_pool](const decider::Decider& decider) {
            pool(
                [bench = decider.state().bench] {
                    return json_answer({{"bench", decider::bench_json(*bench)}});
                },
                give);
        });
    });
}

HttpOutcome ask_for_events(const HttpRequest& request, const HttpGround& ground) {
    Query query(request);
    decider::EventQuery asked;
    asked.kind = query.text("kind");
    if (const auto from = query.number("from", 0)) asked.from = static_cast<std::uint64_t>(*from);
    if (const auto below = query.number("below", 0)) asked.below = static_cast<std::uint64_t>(*below);
    if (const auto limit = query.number("limit", 1, static_cast<std::int64_t>(decider::most_events)))
        asked.limit = static_cast<std::size_t>(*limit);
    if (asked.from && asked.below) query.say("\"from\" and \"below\" exclude each other; give one");
    if (!asked.kind.empty() && !bench::names_a_fact(asked.kind))
        query.say(fmt::format("no fact is called \"{}\"; kinds are names such as FloatConfirmed", asked.kind));
    if (auto wrong = query.objection()) return *wrong;
    return on_pool(ground, [asked, path = ground.journal_path] {
        return answer_read(decider::events_json(path, asked), 503, "not_readable");
    });
}

HttpOutcome ask_for_readings(const HttpRequest& request, const HttpGround& ground) {
    Query query(request);
    const auto channel = query.text("channel");
    const auto last_s = query.number("last_s", 1, longest_last_s);
    if (channel.empty()) query.say("\"channel\" is missing; give the name of an instrument");
    if (auto wrong = query.objection()) return *wrong;
    return LaterAnswer([&ground, channel, last_s](const std::function<void(HttpAnswer)>& give) {
        ground.on_deciding_thread([give, channel, last_s, pool = ground.on_pool,
                                   path = ground.journal_path](const decider::Decider& decider) {
            const auto span =
                decider::readings_query(decider, channel, last_s ? static_cast<double>(*last_s) : default_last_s);
            if (!span)
                return give(
                    problem(404, "not_found", fmt::format("no instrument with a wire is called \"{}\"", channel)));
            pool([path, span = *span] { return answer_read(decider::readings_json(path, span), 503, "not_readable"); },
                 give);
        });
    });
}

namespace {

const char* type_of_document(const std::string& name) {
    const auto ends = [&name](const char* end) { return name.ends_with(end); };
    return ends(".pdf")   ? "application/pdf"
           : ends(".xml") ? "application/xml"
           : ends(".csv") ? "text/csv; charset=utf-8; header=present"
           : ends(".sig") ? "application/octet-stream"
                          : "application/json";
}

HttpAnswer document(const std::string& records, const std::string& name, const bench::RecordedCertificate& one) {
    const auto folder = std::filesystem::path(records) / folder_of(one);
    const auto bytes = records::document_at((folder / name).string());
    if (!bytes)
        return problem(404, "not_found",
                       fmt::format("{} is on record, but its file is not in the folder of the records; draft it again, "
                                   "or restore the folder",
                                   name));
    // The folder may hold those of another certificate of that number.
    if (one.signature &&
        !holds_what_was_signed(records, records::folder_named(records, folder_of(one)), *one.signature))
        return problem(404, "not_found",
                       fmt::format("{}: holds other documents than those that were signed as certificate {}, which are "
                                   "not served under its number; put the signed ones there, from a back-up",
                                   folder.string(), one.draft.certificate));
    HttpAnswer answer;
    answer.type = type_of_document(name);
    answer.body = *bytes;
    answer.headers.emplace_back("Content-Disposition", fmt::format("inline; filename=\"{}\"", name));
    return answer;
}

} // namespace

HttpOutcome ask_for_document(const HttpRequest& request, const HttpGround& ground) {
    return LaterAnswer([&ground, number = request.target.parts[2],
                        name = request.target.parts[3]](const std::function<void(HttpAnswer)>& give) {
        ground.on_deciding_thread([give, number, name, pool = ground.on_pool,
                                   folder = ground.records_folder](const decider::Decider& decider) {
            // Only names that are on record are looked for, so that no request leads anywhere else.
            const auto* recorded = bench::certificate_numbered(decider.state(), number);
            if (recorded == nullptr)
                return give(problem(404, "not_found", fmt::format("there is no certificate \"{}\"", number)));
            const auto names = document_names(*recorded);
            if (std::ranges::find(names, name) == names.end())
                return give(
                    problem(404, "not_found", fmt::format("certificate {} has: {}", number, fmt::join(names, ", "))));
            pool([folder, name, one = *recorded] { return document(folder, name, one); }, give);
        });
    });
}

HttpOutcome ask_for_budget(const HttpRequest& request, const HttpGround& ground) {
    Query query(request);
    const auto mark = query.number("mark", 1);
    if (!mark) query.say("\"mark\" is missing; give the number of a mark of this run");
    if (auto wrong = query.objection()) return *wrong;
    return on_pool(ground, [run = request.target.parts[2], mark = *mark, path = ground.journal_path] {
        auto answer = answer_read(decider::budget_json(path, run, mark), 404, "not_found");
        if (answer.status == 200) answer.body = "{\"budget\":" + answer.body + "}\n";
        return answer;
    });
}

} // namespace stillmark::gateway
