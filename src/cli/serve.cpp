#include <fmt/chrono.h>
#include <fmt/format.h>
#include <signal.h>
#include <unistd.h>

#include <filesystem>
#include <iostream>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "bay/answer.h"
#include "bay/look.h"
#include "bay/qr.h"
#include "bay/server.h"
#include "cli/commands.h"
#include "records/address.h"
#include "units/error.h"

namespace squaresight::cli {
namespace {

struct ServeOptions {
    std::filesystem::path jobs;
    std::filesystem::path shop;
    std::filesystem::path records;
    std::string listen = "127.0.0.1";
    int port = 8080;
    std::vector<std::string> names;
    std::filesystem::path certificate, key;
};

bay::ServerSettings settings_of(const ServeOptions& options) {
    bay::ServerSettings settings;
    settings.jobs = options.jobs;
    const auto beside = std::filesystem::absolute(options.jobs).lexically_normal() / "../shop.yaml";
    settings.shop_file =
        std::filesystem::absolute(options.shop.empty() ? beside : options.shop).lexically_normal();
    settings.program = std::filesystem::read_symlink("/proc/self/exe");
    settings.records = options.records;
    settings.listen = options.listen;
    settings.port = options.port;
    settings.names = options.names;
    settings.certificate = options.certificate;
    settings.key = options.key;
    settings.log = [](const std::string& line) {
        std::cerr << fmt::format("{:%Y-%m-%d %H:%M:%S} {}\n", fmt::gmtime(std::time(nullptr)),
                                 line);
    };
    return settings;
}

/// Waits for the signals that end a program, on a thread of its own; they must be blocked.
void stop_on_signal(bay::BayServer& server, const sigset_t& signals) {
    int signal = 0;
    ::sigwait(&signals, &signal);
    server.stop();
}

void tell_how_to_open(bay::BayServer& server) {
    const std::string pair = "/pair?code=" + server.new_code(bay::Role::shop);
    std::cout << "Open on this computer: " << server.address() << pair << "\n";
    const std::string others = server.address_for_others();
    if (!others.empty()) {
        std::cout << "or on another device: " << others << pair << "\n";
        if (isatty(STDOUT_FILENO) != 0) {
            std::cout << bay::qr_blocks(others + pair);
        }
    }
    std::cout << "(the shop lead's code: it works once, for ten minutes)\nEnd with Ctrl-C."
              << std::endl;
}

void run(const ServeOptions& options) {
    if (options.certificate.empty() != options.key.empty()) {
        throw InputError("--tls-cert and --tls-key", "belong together", "give both or none");
    }
    // A reader who is gone and a file that may not grow are errors of a call, not an end.
    ::signal(SIGPIPE, SIG_IGN);
    ::signal(SIGXFSZ, SIG_IGN);
    sigset_t signals;
    sigemptyset(&signals);
    sigaddset(&signals, SIGINT);
    sigaddset(&signals, SIGTERM);
    ::pthread_sigmask(SIG_BLOCK, &signals, nullptr);
    bay::BayServer server(settings_of(options));
    tell_how_to_open(server);
    std::thread waiting([&] { stop_on_signal(server, signals); });
    server.run();
    waiting.join();
}

}  // namespace

void add_serve(CLI::App& app, int& exit_code) {
    auto options = std::make_shared<ServeOptions>();
    CLI::App* command =
        app.add_subcommand("serve", "The bay page: the whole job in a browser, for the phone");
    command->add_option("--jobs", options->jobs, "Folder that holds the job folders")->required();
    command->add_option("--shop", options->shop,
                        "What the shop has set up [shop.yaml beside the folder of jobs]");
    command->add_option(
        "--records", options->records,
        "Store that reviewed jobs go to [" + std::string(usual_store) + " beside the shop's file]");
    command->add_option("--listen", options->listen,
                        "Address to listen on [127.0.0.1: this computer only]");
    command->add_option("--port", options->port, "Port [8080]; 0: any that is free")
        ->check(CLI::Range(0, 65535));
    command->add_option("--name", options->names,
                        "A name under which browsers reach this computer (addresses need none)");
    command->add_option("--tls-cert", options->certificate, "Certificate (PEM)");
    command->add_option("--tls-key", options->key, "Its private key (PEM)");
    command->footer("Example: squaresight serve --jobs samples/jobs");
    command->callback([options, &exit_code] {
        run(*options);
        exit_code = done;
    });
}

void add_page_work(CLI::App& app, int& exit_code) {
    struct Work {
        std::filesystem::path sheet, seen;
        std::string photo;
    };
    auto work = std::make_shared<Work>();
    CLI::App* measure = app.add_subcommand("measure-for-page", "Measures a job for the bay page");
    CLI::App* look = app.add_subcommand("look-for-page", "Looks at one photo for the bay page");
    for (CLI::App* command : {measure, look}) {
        command->group("");
        command->add_option("JOB", work->sheet, "Job sheet (YAML)")->required();
    }
    look->add_option("PHOTO", work->photo, "Its photo, as the sheet names it")->required();
    for (CLI::App* command : {measure, look}) {
        command->add_option("SEEN", work->seen, "Folder of photos that were searched")->required();
    }
    measure->callback([work, &exit_code] {
        std::cout << bay::measured_answer(work->sheet, work->seen);
        exit_code = done;
    });
    look->callback([work, &exit_code] {
        std::cout << bay::photo_look(work->sheet, work->photo, work->seen);
        exit_code = done;
    });
}

}  // namespace squaresight::cli
