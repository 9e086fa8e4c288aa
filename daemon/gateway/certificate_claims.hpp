#pragma once

#include <cstddef>
#include <memory>
#include <set>
#include <string>

namespace stillmark::gateway {

/// Which certificates are being made now, and how many requests are in work. All on one thread, the destruction of
/// claims too. The bound and the numbers are one thing: what gives a place back gives the number back with it.
class CertificateClaims {
    struct InWork {
        std::size_t count = 0;
        std::set<std::string> numbers;
    };

  public:
    static constexpr std::size_t most = 8; ///< requests in work at once

    /// One request in work. Its end gives back the place and the number, whatever became of the request.
    class Claim {
      public:
        explicit Claim(std::shared_ptr<InWork> in_work) : in_work_(std::move(in_work)) { ++in_work_->count; }
        ~Claim() { release(); }
        Claim(const Claim&) = delete;
        Claim& operator=(const Claim&) = delete;

        /// Takes the number of a certificate too; false where another request works at that one.
        bool take(const std::string& number) {
            if (!in_work_->numbers.insert(number).second) return false;
            number_ = number;
            return true;
        }
        /// Gives everything back before the end.
        void release() {
            if (in_work_ == nullptr) return;
            --in_work_->count;
            if (!number_.empty()) in_work_->numbers.erase(number_);
            in_work_.reset();
        }

      private:
        std::shared_ptr<InWork> in_work_;
        std::string number_;
    };

    /// A place for one request; null where `most` are in work.
    std::shared_ptr<Claim> claim() { return in_work_->count < most ? std::make_shared<Claim>(in_work_) : nullptr; }
    const std::set<std::string>& numbers() const { return in_work_->numbers; }

  private:
    std::shared_ptr<InWork> in_work_ = std::make_shared<InWork>();
};

} // namespace stillmark::gateway
