#pragma once
#include <chrono>
#include <cstddef>

namespace squaresight::bay {

/// What a connection may take before and after it is known who sends.
struct FrontLimits {
    std::size_t connections = 64;          ///< served at once
    std::size_t head_bytes = 16 << 10;     ///< request line and headers together
    std::chrono::milliseconds head{8000};  ///< until the head is complete, TLS's handshake included
    std::chrono::milliseconds body{20000};     ///< from then until the answer is sent
    std::chrono::milliseconds page{60000};     ///< the same for who belongs
    std::chrono::milliseconds upload{600000};  ///< and for a photo sent as one form
    std::chrono::milliseconds idle{8000};      ///< longest pause of a sender or receiver
};

}  // namespace squaresight::bay
