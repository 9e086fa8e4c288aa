#pragma once

#include <string>
#include <string_view>

namespace stillmark::seal {

/// An open file or folder, closed with it; below 0 where there is none.
class Descriptor {
  public:
    explicit Descriptor(int number) : number_(number) {}
    ~Descriptor();
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    int number() const { return number_; }
    bool is_open() const { return number_ >= 0; }

  private:
    int number_;
};

/// All of it, however many calls the system makes of it; false with errno where it cannot.
bool write_all(int file, std::string_view text);

/// What errno says, in words.
std::string reason();

} // namespace stillmark::seal
