#include "job/headline.h"

#include "job/instruction.h"

namespace squaresight {

Headline headline_of(const JobResult& result) {
    switch (instruction_of(result).action) {
        case Action::hold:
            return Headline::stop;
        case Action::turn:
        case Action::measure_again:
            return Headline::do_this;
        case Action::lock:
        case Action::finish:
            return Headline::not_ready;
        case Action::done:
            break;
    }
    return Headline::done;
}

std::optional<Headline> parse_headline(const std::string& text) {
    for (const auto one :
         {Headline::stop, Headline::do_this, Headline::not_ready, Headline::done}) {
        if (text == headline_text(one)) {
            return one;
        }
    }
    return std::nullopt;
}

const char* headline_text(Headline headline) {
    switch (headline) {
        case Headline::do_this:
            return "do this";
        case Headline::not_ready:
            return "not ready";
        case Headline::done:
            return "done";
        case Headline::stop:
            break;
    }
    return "stop";
}

}  // namespace squaresight
