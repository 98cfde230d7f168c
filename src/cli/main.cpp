#include <exception>
#include <iostream>

#include "cli/commands.h"
#include "units/error.h"

int main(int argc, char** argv) {
    using namespace squaresight;
    CLI::App app{"Squaresight: squares a forward sensor's mount to the truck's frame from photos"};
    app.set_version_flag("--version", SQUARESIGHT_VERSION);
    app.require_subcommand(1);
    app.footer("Each command tells more: squaresight measure --help");
    int exit_code = cli::done;
    cli::add_target(app, exit_code);
    cli::add_calibrate(app, exit_code);
    cli::add_plan(app, exit_code);
    cli::add_cradle(app, exit_code);
    cli::add_measure(app, exit_code);
    cli::add_page_work(app, exit_code);
    cli::add_tape(app, exit_code);
    cli::add_turns(app, exit_code);
    cli::add_compare(app, exit_code);
    cli::add_records(app, exit_code);
    cli::add_serve(app, exit_code);
    cli::add_review(app, exit_code);
    cli::add_simulate(app, exit_code);
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return app.exit(error) == 0 ? cli::done : cli::wrong_usage;
    } catch (const InputError& error) {
        std::cerr << "squaresight: " << error.what() << '\n';
        return cli::unusable_input;
    } catch (const std::exception& error) {
        std::cerr << "squaresight: the program failed (" << error.what()
                  << "); please report this with the files that led to it\n";
        return cli::unusable_input;
    }
    return exit_code;
}
