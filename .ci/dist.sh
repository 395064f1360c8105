#!/usr/bin/env bash
# Run by `meson dist`: gives every file of the tarball the time of its commit, so that one commit
# always gives the same tarball.
set -eu
time=$(git -C "$MESON_PROJECT_DIST_ROOT" log -1 --format=%ct 2>/dev/null ||
    git -C "$MESON_SOURCE_ROOT" log -1 --format=%ct)
find "$MESON_PROJECT_DIST_ROOT" -exec touch -h -d "@$time" {} +
