#include "simulator/bench_copy.hpp"

#include "simulator/mistake.hpp"

#include <boost/asio.hpp>

#include <filesystem>
#include <fstream>
#include <regex>
#include <sstream>
#include <vector>

namespace stillmark::simulator {

std::string copy_bench_with_free_ports(const std::string& bench, const std::string& folder) {
    std::ifstream from(bench);
    if (!from) throw Mistake(bench + ": cannot be read");
    std::stringstream whole;
    whole << from.rdbuf();
    const std::string text = whole.str();

    namespace asio = boost::asio;
    asio::io_context io;
    std::vector<asio::ip::tcp::acceptor> taken; // held until the copy is written, so that no two are the same
    static const std::regex port(R"re("port"\s*:\s*[0-9]+)re");
    std::string copy;
    auto rest = text.cbegin();
    for (std::sregex_iterator at(text.begin(), text.end(), port), end; at != end; ++at) {
        taken.emplace_back(io, asio::ip::tcp::endpoint(asio::ip::address_v4::loopback(), 0));
        copy.append(rest, text.cbegin() + at->position());
        copy += "\"port\": " + std::to_string(taken.back().local_endpoint().port());
        rest = text.cbegin() + at->position() + at->length();
    }
    copy.append(rest, text.cend());

    std::error_code ec;
    std::filesystem::create_directories(folder, ec);
    auto path = (std::filesystem::path(folder) / std::filesystem::path(bench).filename()).string();
    std::ofstream to(path);
    to << copy;
    if (!to.flush()) throw Mistake(path + ": cannot be written");
    return path;
}

} // namespace stillmark::simulator
