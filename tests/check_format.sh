#!/usr/bin/env bash
# Every C++ file is as clang-format leaves it.
set -euo pipefail
cd "$(dirname "$0")/.."
git ls-files '*.h' '*.cpp' | xargs clang-format --dry-run --Werror
