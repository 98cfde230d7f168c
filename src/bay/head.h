#pragma once
#include <string>
#include <string_view>

namespace squaresight::bay {

/// Whether a request's head, from its first byte to its empty line, has a single reading: a request
/// line "METHOD /target HTTP/1.1" (or 1.0) and fields "name: value", each line ended by CR LF, none
/// folded, no blank before a colon, no control character. Any other head is refused here, since
/// another reader of the same bytes may see another request in it (RFC 9112, 2.2, 3, 5.1, 5.2).
bool is_plain_head(std::string_view head);

/// A line that is not ended by CR LF: a head in which it stands needs not be read further.
bool has_bare_line_end(std::string_view bytes);

/// A plain head without the fields of this name (in small letters).
std::string without_field(std::string_view head, std::string_view name);

}  // namespace squaresight::bay
