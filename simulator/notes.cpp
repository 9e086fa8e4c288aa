#include "simulator/notes.hpp"

#include "simulator/instant.hpp"
#include "simulator/mistake.hpp"

#include <utility>

namespace stillmark::simulator {

Notes::Notes(const std::string& path) {
    if (path.empty()) return;
    file_.open(path, std::ios::app);
    if (!file_) throw Mistake(path + ": cannot be written");
}

void Notes::write(const std::string& what, nlohmann::json details) {
    if (!file_.is_open()) return;
    details["at_us"] = now_us();
    details["what"] = what;
    file_ << details.dump() << '\n' << std::flush;
}

} // namespace stillmark::simulator
