#pragma once

// These options change the library's classes: every file that knows them must be compiled with
// those that Debian's shared library was built with (`pkg-config --cflags cpp-httplib`).
#ifndef CPPHTTPLIB_OPENSSL_SUPPORT
#define CPPHTTPLIB_OPENSSL_SUPPORT
#endif
#ifndef CPPHTTPLIB_ZLIB_SUPPORT
#define CPPHTTPLIB_ZLIB_SUPPORT
#endif
#ifndef CPPHTTPLIB_BROTLI_SUPPORT
#define CPPHTTPLIB_BROTLI_SUPPORT
#endif
#include <httplib.h>
// A macro of the resolver's header, which Eigen uses as a name.
#undef _res
