#pragma once

#include "protocols/fault.hpp"

#include <string>

namespace stillmark::protocols {

/// A serial port that no other program reads meanwhile: two readers of one line get half of its bytes each. The lock
/// (flock) ends with this object or with the process, whatever ends it.
class ExclusivePort {
  public:
    /// link_down where the device cannot be opened or another program has it; the detail names that program.
    static Result<ExclusivePort> take(const std::string& device);
    ~ExclusivePort();
    ExclusivePort(ExclusivePort&& other) noexcept;
    ExclusivePort& operator=(ExclusivePort&& other) noexcept;
    ExclusivePort(const ExclusivePort&) = delete;
    ExclusivePort& operator=(const ExclusivePort&) = delete;

    /// Lets nobody open the port any more (TIOCEXCL), also who knows no flock; to be called when this program has
    /// opened it. Not on a pseudo-terminal: there it would outlive a killed holder while the far end has the line open.
    void keep_others_out() const;

  private:
    explicit ExclusivePort(int descriptor) : descriptor_(descriptor) {}
    int descriptor_ = -1;
};

/// The process that holds the device, as "stillmarkd (process 4711)"; "another program" where the system does not tell.
std::string holder_of(const std::string& device);

} // namespace stillmark::protocols
