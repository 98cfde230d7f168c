#pragma once
#include <httplib.h>
// A macro of the resolver's header, which Eigen uses as a name.
#undef _res
