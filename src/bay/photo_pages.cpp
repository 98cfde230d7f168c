#include <algorithm>
#include <fstream>
#include <map>
#include <regex>

#include "bay/site.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

void show_photos(Site& site, Call& call, int status, const Phrase& problem) {
    const StoredJob job = site.store.open(call.job);
    const PhotoLooks looks = site.looks_of(job);
    const PhotosWanted wanted = site.wanted_of(job, looks);
    if (wanted.next.empty() && !looks.working) {
        site.measuring_of(job);  // all photos are there: begin before the answer is asked for
    }
    send_page(call.response, status,
              photos_page(call.viewer, job, looks, wanted, site.store.last_entry(job), problem));
}

/// Photos as a plain form sends them: the fields before them, then the bytes of one after the
/// other.
class WholePhotos {
  public:
    WholePhotos(Uploads& uploads, std::string job, std::function<bool(const std::string&)> may)
        : uploads_(uploads), job_(std::move(job)), may_(std::move(may)) {}

    bool begin_entry(const std::string& name) {
        entry_ = name;
        if (name != "photo") {
            return true;
        }
        if (ids_.size() >= most_photos_of_job || !may_(fields_["token"])) {
            return false;
        }
        flush();
        ids_.push_back(uploads_.begin(job_, fields_["cradle"], largest_photo_bytes));
        return true;
    }
    bool take(const char* bytes, std::size_t size) {
        if (entry_ == "photo") {
            waiting_.append(bytes, size);
            return waiting_.size() < largest_piece_bytes || flush();
        }
        std::string& field = fields_[entry_];
        field.append(bytes, size);
        return fields_.size() < 10 && field.size() < 200;
    }
    bool flush() {
        if (!waiting_.empty()) {
            uploads_.append(ids_.back(), waiting_);
            waiting_.clear();
        }
        return true;
    }
    const std::vector<std::string>& ids() const { return ids_; }
    /// Of several photos each tells by itself how the phone stood.
    std::string cradle() {
        const std::string& said = fields_["cradle"];
        return ids_.size() > 1 && said != picture_of_damage ? "" : said;
    }

  private:
    Uploads& uploads_;
    std::string job_;
    std::function<bool(const std::string&)> may_;
    std::string entry_, waiting_;
    std::vector<std::string> ids_;
    std::map<std::string, std::string> fields_;
};

/// When a photo was taken as its head has it in plain letters, "2026:03:04 09:12:00"; empty where
/// it does not. Only for the order of photos that came together: nothing is decoded here.
std::string time_in_head(const std::filesystem::path& file) {
    std::string head(std::size_t{256} << 10, '\0');
    std::ifstream stream(file, std::ios::binary);
    stream.read(head.data(), static_cast<std::streamsize>(head.size()));
    head.resize(static_cast<std::size_t>(stream.gcount()));
    static const std::regex time("[0-9]{4}:[0-9]{2}:[0-9]{2} [0-9]{2}:[0-9]{2}:[0-9]{2}");
    std::smatch found;
    return std::regex_search(head, found, time) ? found.str() : "";
}

std::vector<std::string> by_time(const Uploads& uploads, const std::vector<std::string>& ids) {
    std::vector<std::pair<std::string, std::string>> timed;
    for (const auto& id : ids) {
        timed.emplace_back(time_in_head(uploads.file(id)), id);
    }
    std::stable_sort(timed.begin(), timed.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    std::vector<std::string> sorted;
    for (const auto& [time, id] : timed) {
        sorted.push_back(id);
    }
    return sorted;
}

/// Takes in what came whole; what is refused of several is told after the others.
std::string take_all(Site& site, const std::string& job, WholePhotos& photos, Language language,
                     Phrase& problem) {
    std::string wrong = photos.ids().empty() ? "photo_lost" : "";
    const std::lock_guard lock(site.uploads_mutex);  // one photo in memory at a time
    for (const auto& id : by_time(site.uploads, photos.ids())) {
        try {
            if (site.uploads.keep(id) == 0) {
                throw PhotoRefused("photo_large");
            }
            take_photo(site.store, job, site.uploads.file(id), photos.cradle(),
                       site.unit_of(site.store.open(job).sheet));
        } catch (const PhotoRefused& refused) {
            wrong = refused.what();
        } catch (const InputError& unusable) {
            problem = told(unusable, language);
        }
    }
    return wrong;
}

void take_whole_photos(Site& site, Call& call, const httplib::ContentReader& reader) {
    site.store.folder_of(call.job);
    bool forged = true;
    WholePhotos photos(site.uploads, call.job, [&](const std::string& token) {
        forged = !is_own_form(call.viewer.session, token);
        return !forged;
    });
    std::string wrong = "photo_lost";
    Phrase problem;
    try {
        const bool whole =
            call.request.is_multipart_form_data() &&
            reader(
                [&](const httplib::MultipartFormData& entry) {
                    return photos.begin_entry(entry.name);
                },
                [&](const char* bytes, std::size_t size) { return photos.take(bytes, size); });
        if (whole) {
            photos.flush();
            wrong = take_all(site, call.job, photos, call.viewer.language, problem);
        }
    } catch (const PhotoRefused& refused) {
        wrong = refused.what();
    }
    for (const auto& id : photos.ids()) {
        site.uploads.end(id);
    }
    if (!wrong.empty()) {
        problem = {message(call.viewer.language, wrong), call.viewer.language};
    }
    if (forged) {
        refuse(call.request, call.response, 403, "forged");
    } else if (problem.text.empty()) {
        go_to(call.response,
              "/job/" + call.job + (photos.cradle() == picture_of_damage ? "/notes" : "/photos"));
    } else {
        show_photos(site, call, 422, problem);
    }
}

void refuse_piece(Call& call, int status, const Phrase& problem) {
    send_json(call.response, status,
              {{"problem", problem.text}, {"lang", language_tag(problem.language)}});
}

void refuse_piece(Call& call, int status, const std::string& key) {
    refuse_piece(call, status, Phrase{message(call.viewer.language, key), call.viewer.language});
}

/// Answers for a photo in pieces; what it is refused for is told as JSON.
void answer_piece(Call& call, const std::function<void()>& action) {
    try {
        action();
    } catch (const PhotoRefused& refused) {
        refuse_piece(call, 422, refused.what());
    } catch (const InputError& unusable) {
        refuse_piece(call, 422, told(unusable, call.viewer.language));
    }
}

void begin_upload(Site& site, Call& call) {
    site.store.folder_of(call.job);
    const std::string size = call.form.get("size");
    const bool plain = !size.empty() && size.size() < 12 &&
                       size.find_first_not_of("0123456789") == std::string::npos;
    answer_piece(call, [&] {
        const std::string id =
            site.uploads.begin(call.job, call.form.get("cradle"), plain ? std::stoull(size) : 0);
        send_json(call.response, 200, {{"upload", id}, {"received", 0}});
    });
}

std::string upload_of(const Call& call) { return call.request.matches[2].str(); }

void take_in(Site& site, const std::string& id, const Uploads::Part& part) {
    take_photo(site.store, part.job, site.uploads.file(id), part.cradle,
               site.unit_of(site.store.open(part.job).sheet));
    site.uploads.end(id);
}

/// A photo that had arrived whole when the server was ended, before it was in its job.
void take_in_late(Site& site, const std::string& id, const Uploads::Part& part) {
    try {
        take_in(site, id, part);
    } catch (const PhotoRefused& refused) {
        site.uploads.end(id);
        if (refused.what() != std::string("photo_again")) {
            throw;
        }
    }
}

/// What was received so far of a call's photo, none of it lost by an end of the server.
std::optional<Uploads::Part> part_of(Site& site, const Call& call) {
    auto part = site.uploads.find(upload_of(call));
    if (!part || part->job != call.job) {
        return std::nullopt;
    }
    if (part->received == part->size && !part->ended) {
        take_in_late(site, upload_of(call), *part);
    }
    return part;
}

void show_part(Site& site, Call& call) {
    const std::lock_guard lock(site.uploads_mutex);
    answer_piece(call, [&] {
        const auto part = part_of(site, call);
        send_json(call.response, part ? 200 : 404, {{"received", part ? part->received : 0}});
    });
}

void add_piece(Site& site, Call& call, const std::string& bytes) {
    auto part = part_of(site, call);
    if (!part) {
        refuse_piece(call, 404, "photo_lost");
        return;
    }
    if (call.request.get_param_value("offset") != std::to_string(part->received)) {
        send_json(call.response, 409, {{"received", part->received}});
        return;
    }
    const std::string id = upload_of(call);
    try {
        site.uploads.append(id, bytes);
        part->received = site.uploads.keep(id);
        if (part->received == part->size) {
            take_in(site, id, *part);
        }
    } catch (const PhotoRefused&) {
        site.uploads.end(id);
        throw;
    }
    send_json(call.response, 200, {{"received", part->received}});
}

void take_piece(Site& site, Call& call, const httplib::ContentReader& reader) {
    if (!is_own_form(call.viewer.session, call.request.get_header_value("X-Form-Token"))) {
        refuse_piece(call, 403, "forged");
        return;
    }
    std::string bytes;
    const bool whole = reader([&](const char* more, std::size_t size) {
        bytes.append(more, size);
        return bytes.size() <= largest_piece_bytes;
    });
    if (!whole) {
        refuse_piece(call, 400, "photo_lost");
        return;
    }
    const std::lock_guard lock(site.uploads_mutex);
    answer_piece(call, [&] { add_piece(site, call, bytes); });
}

}  // namespace

void add_photo_pages(Site& site) {
    site.get(job_pattern("/photos"), [&site](Call& call) { show_photos(site, call, 200, {}); });
    site.front.Post(job_pattern("/photos"), [&site](const Request& request, Response& response,
                                                    const httplib::ContentReader& reader) {
        Call call = site.call_of(request, response);
        take_whole_photos(site, call, reader);
    });
    site.post(job_pattern("/photos/out"), [&site](Call& call) {
        site.change(
            call, [&](JobSheet& sheet) { take_out(sheet, call.form.get("file")); },
            Deed::photo_out);
        const std::string stage = call.form.get("stage");
        go_to(call.response, "/job/" + call.job + (stage.empty() ? "/photos" : "/stage?stage=") +
                                 (is_job_id(stage) ? stage : ""));
    });
    site.post(job_pattern("/upload"), [&site](Call& call) { begin_upload(site, call); });
    site.get(job_pattern("/upload/([A-Za-z0-9]+)"), [&site](Call& call) { show_part(site, call); });
    site.front.Post(
        job_pattern("/upload/([A-Za-z0-9]+)"),
        [&site](const Request& request, Response& response, const httplib::ContentReader& reader) {
            Call call = site.call_of(request, response);
            take_piece(site, call, reader);
        });
    site.post(job_pattern("/photos/stands"), [&site](Call& call) {
        site.change(
            call,
            [&](JobSheet& sheet) {
                take_label(sheet, call.form.get("file"), call.form.get("cradle"));
            },
            Deed::photo_stands);
        go_to(call.response, "/job/" + call.job + "/photos");
    });
    site.get(job_pattern("/look/([0-9a-f]{64})\\.jpg"), [&site](Call& call) {
        const auto file =
            existing(site.measuring.seen_folder() / (call.request.matches[2].str() + ".jpg"));
        call.response.set_content(read_file(file, largest_photo_bytes), "image/jpeg");
    });
}

}  // namespace squaresight::bay
