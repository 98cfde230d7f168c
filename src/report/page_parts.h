#pragma once
#include <initializer_list>
#include <kainjow/mustache.hpp>
#include <string>
#include <utility>
#include <vector>

/// What the pages have in common, so that all look alike. Internal to `report`.
namespace squaresight {

/// The style of every page; what a page adds or changes stands after it.
extern const char* const page_style;

/// The values of a page's template.
using PageData = kainjow::mustache::data;

/// A text whose numbers stay on one line with their fraction and their unit: a line that begins
/// with the "3/8" of "1 3/8 turns" is turned wrong.
std::string unbroken(const std::string& text);

PageData list_of(const std::vector<std::string>& texts);
PageData record(std::initializer_list<std::pair<const char*, std::string>> fields);

/// A section of the template shows for any text, an empty one too: leave it out.
void set_unless_empty(PageData& page, const char* name, const std::string& text);

/// The page of a template; its {{{style}}} is the style of every page.
std::string rendered(const char* page_template, PageData page);

}  // namespace squaresight
