#!/bin/sh
# Builds the container that holds a machine, without a registry: `root.tar` in the folder given, from Debian packages by name.
# Needs mmdebstrap, and what machine.sh needs where the folder lacks its two files. No privilege beyond a user namespace.
# With a name, the container engine is given the image under it.
#
#   sh container.sh FOLDER [NAME]
set -eu
here=$(cd "$(dirname "$0")" && pwd)
mkdir -p "$1"
out=$(cd "$1" && pwd)
[ -e "$out/kernel" ] && [ -e "$out/initramfs" ] || sh "$here/machine.sh" "$out"

packages=$(grep -v '^#' "$here/container.txt" | paste -sd,)
# shellcheck disable=SC2016 # the hook's own words
TMPDIR="$out" mmdebstrap --quiet --format=tar --variant=extract --include="$packages" \
  --extract-hook='mkdir -p "$1/machine" "$1/tmp"; chmod 1777 "$1/tmp"' \
  --extract-hook="copy-in '$out/kernel' '$out/initramfs' '$here/inside.sh' /machine" \
  "$(. /etc/os-release && echo "$VERSION_CODENAME")" "$out/root.tar.part"
mv "$out/root.tar.part" "$out/root.tar"
[ $# -lt 2 ] || docker import --change 'ENTRYPOINT ["/bin/busybox", "sh", "/machine/inside.sh"]' "$out/root.tar" "$2"
