#include "daemon/records/print/print.hpp"

#include "daemon/records/print/archive.hpp"
#include "daemon/records/print/blocks.hpp"
#include "daemon/records/print/parts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cairo-pdf.h>

namespace stillmark::records {

namespace print {

namespace {

// ISO 216, A4.
constexpr double paper_width = 210 * points_of_a_mm, paper_height = 297 * points_of_a_mm;
constexpr double side = 20 * points_of_a_mm, top = 12 * points_of_a_mm, bottom = 12 * points_of_a_mm;
constexpr double text_width = paper_width - 2 * side;

/// What stands at the head of each page: which certificate this is, whether it counts, and which page of how many.
class PageHead {
  public:
    explicit PageHead(const Desk& desk) : desk_(desk) {
        const auto& words = desk.words;
        if (desk.certificate.draft) draft_ = desk.type.line(words("draft mark"), bold);
        const double taken = page_number(999, 999).width + draft_.width + 2 * gap;
        number_ = desk.type.lines(words("page head", {{"number", desk.certificate.number}}), plain, desk.width - taken);
        for (const Line& line : number_)
            height_ += line.height;
    }

    double height() const { return height_ + below; }

    void draw(cairo_t* page, std::size_t number, std::size_t count) const {
        double y = top;
        for (const Line& line : number_) {
            line.draw(page, side, y);
            y += line.height;
        }
        const Line pages = page_number(number, count);
        pages.draw(page, side + desk_.width - pages.width, top);
        if (draft_.line != nullptr) draft_.draw(page, side + desk_.width - pages.width - gap - draft_.width, top);
        rule(desk_.width, 2, 0).draw(page, side, y);
    }

  private:
    static constexpr Style plain{8, false, 0};
    static constexpr Style bold{8, true, 0};
    static constexpr double gap = 18, below = 10;

    Line page_number(std::size_t number, std::size_t count) const {
        return desk_.type.line(
            desk_.words("page of", {{"page", std::to_string(number)}, {"pages", std::to_string(count)}}), plain);
    }

    const Desk& desk_;
    Line draft_;
    std::vector<Line> number_;
    double height_ = 0;
};

cairo_status_t take(void* closure, const unsigned char* data, unsigned int length) {
    static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
}

RecordResult<std::string> drawn(const std::vector<Page>& pages, const PageHead& head) {
    std::string bytes;
    cairo_surface_t* const surface = cairo_pdf_surface_create_for_stream(take, &bytes, paper_width, paper_height);
    cairo_t* const page = cairo_create(surface);
    for (std::size_t i = 0; i < pages.size(); ++i) {
        head.draw(page, i + 1, pages.size());
        for (const Placed& placed : pages[i])
            placed.strip->draw(page, side, top + head.height() + placed.y);
        cairo_show_page(page);
    }
    const auto drawing = cairo_status(page);
    cairo_destroy(page);
    cairo_surface_finish(surface);
    const auto writing = cairo_surface_status(surface);
    cairo_surface_destroy(surface);
    for (const auto status : {drawing, writing})
        if (status != CAIRO_STATUS_SUCCESS)
            return RecordError{
                fmt::format("the printed certificate could not be drawn: {}; if memory is short, free some "
                            "and ask again",
                            cairo_status_to_string(status))};
    return {boost::system::in_place_value, std::move(bytes)};
}

RecordResult<Flow> everything(const Desk& desk) {
    auto first = opening(desk);
    if (!first) return first.error();
    Flow flow = *std::move(first);
    append(flow, conditions(desk));
    const auto scale = scale_for(desk.certificate.results);
    for (const Results& results : desk.certificate.results)
        append(flow, results_of(desk, results, scale));
    auto last = closing(desk);
    if (!last) return last.error();
    append(flow, *std::move(last));
    return flow;
}

/// The number without what would make a path of it.
std::string file_name(std::string number) {
    std::ranges::replace_if(
        number, [](char c) { return c == '/' || c == '\\' || c == ':'; }, '_');
    return number;
}

} // namespace

std::string instant(const Desk& desk, std::int64_t utc_us) {
    return local_time(utc_us, desk.certificate.time_zone).words();
}

std::string date(const Desk& desk, std::int64_t utc_us) {
    return local_time(utc_us, desk.certificate.time_zone).date;
}

std::string joined(const std::vector<std::string>& texts, const std::string& between) {
    std::string all;
    for (const std::string& text : texts) {
        if (text.empty()) continue;
        if (!all.empty()) all += between;
        all += text;
    }
    return all;
}

} // namespace print

RecordResult<std::string> pdf_of(const Certificate& certificate, const std::string& xml) {
    auto type = print::Typeface::found(certificate.language);
    if (!type) return type.error();
    const print::Desk desk{certificate, Words::of(certificate.language), *type, print::text_width};
    const auto flow = print::everything(desk);
    if (!flow) return flow.error();
    const print::PageHead head(desk);
    const auto pages = print::paginate(*flow, print::paper_height - print::top - print::bottom - head.height());
    const auto plain = print::drawn(pages, head);
    if (!plain) return plain.error();
    print::About about;
    about.title = desk.words("page head", {{"number", certificate.number}});
    about.author = certificate.laboratory.name;
    about.creator = "stillmark " + certificate.proof.build;
    about.made_utc_us = certificate.issued_utc_us;
    about.language = certificate.language;
    return print::archived(*plain, about,
                           {print::file_name(certificate.number) + ".xml", xml, desk.words("digital certificate")});
}

} // namespace stillmark::records
