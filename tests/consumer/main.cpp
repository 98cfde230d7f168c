#include <adjust/decision.h>
#include <job/measure.h>
#include <units/error.h>

#include <iostream>

int main() {
    const squaresight::Verdict verdict = squaresight::decide({0.1, 0.05}, 0, 0.3);
    try {
        squaresight::measure_job("there is no such sheet.yaml");
    } catch (const squaresight::InputError& error) {
        std::cout << verdict.probability << '\n' << error.what() << '\n';
        return verdict.call == squaresight::Call::in_tolerance ? 0 : 1;
    }
    return 1;
}
