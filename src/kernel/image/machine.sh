#!/bin/sh
# Builds a machine that holds sites: `kernel` and `initramfs` in the folder given, from Debian packages by name.
# Needs apt with lists of packages, dpkg-deb and gzip; no privilege. Writes in the folder alone, and last of all its two files.
#
#   sh machine.sh FOLDER
set -eu
here=$(cd "$(dirname "$0")" && pwd)
mkdir -p "$1"
out=$(cd "$1" && pwd)
work="$out/work"
rm -rf "$work"
mkdir -p "$work/packages" "$work/from" "$work/root"

# Names of virtual packages and alternatives come along with real ones; `unneeded` drops what is for setting up alone.
# The first dependency of the meta package is the kernel itself, by its version.
kernel=$(apt-cache depends linux-image-cloud-amd64 | awk '/Depends:/ { print $2; exit }')
[ -n "$kernel" ] || { echo "apt knows no linux-image-cloud-amd64: run apt-get update, on Debian for amd64" >&2; exit 1; }
programs="busybox-static iproute2 nftables dnsmasq-base radvd conntrack tcpdump wireguard-tools python3-minimal libpython3-stdlib"
# What these ask for when they are installed and configured, which they are not here.
unneeded='^(adduser|cdebconf|debconf.*|dpkg|gcc-.*|install-info|libdebian.*|libelogind.*|libnewt.*|libpam.*|libperl.*|libsem.*|libslang.*|mailcap|media-types|mime-support|passwd|perl.*|tar)$'
needed=$(apt-cache depends --recurse --no-recommends --no-suggests --no-conflicts --no-breaks --no-replaces --no-enhances $programs |
  grep -E '^[a-z0-9]' | grep -Ev "$unneeded" | sort -u)
cd "$work/packages"
# shellcheck disable=SC2086 # a list of names
apt-get download -qq -o APT::Sandbox::User=root $kernel $needed
ls >"$work/packages.txt"
for package in *.deb; do dpkg-deb -x "$package" "$work/from"; done

cd "$work/from"
# Merged folders, as on an installed system; /usr is where all of it goes.
libraries="$work/from/lib/x86_64-linux-gnu:$work/from/usr/lib/x86_64-linux-gnu"
loader="$work/from/lib64/ld-linux-x86-64.so.2"
[ -e "$loader" ] || loader=$(find "$work/from" -name 'ld-linux-x86-64.so.2' -type f | head -n 1)
load() { "$loader" --library-path "$libraries" "$@"; }

root="$work/root"
mkdir -p "$root/bin" "$root/lib64" "$root/lib/x86_64-linux-gnu" "$root/modules" "$root/proc" "$root/sys" "$root/dev" "$root/run" "$root/tmp" "$root/etc"
# Files alone: a link may name a place on this machine, and what lies there is not from the packages.
find_program() { find "$work/from" -path "*bin/$1" -type f | head -n 1; }
python=$(find "$work/from/usr/bin" -name 'python3.[0-9]*' -type f | head -n 1)
version=$(basename "$python")
for name in ip bridge ss nft dnsmasq radvd conntrack tcpdump wg; do cp -L "$(find_program "$name")" "$root/bin/$name"; done
cp "$python" "$root/bin/python3"
cp "$(find_program busybox)" "$root/bin/busybox"
cp -r "$work/from/usr/lib/$version" "$root/lib/$version"
# A whole Python, less what no program here could want.
(
  cd "$root/lib/$version"
  rm -rf __phello__* config-* ctypes/macholib curses dbm distutils email ensurepip html http idlelib lib2to3 msilib multiprocessing \
    pydoc_data sqlite3 test tkinter turtledemo unittest urllib venv wsgiref xml xmlrpc zoneinfo LICENSE.txt
  cd lib-dynload
  rm -f _bz2* _codecs_* _crypt* _curses* _dbm* _decimal* _lzma* _sqlite3* _ssl* _test* _xx* _zoneinfo* audioop* nis* ossaudiodev* readline* xx*
  cd ..
  PYTHONHOME="$work/from/usr" load "$python" -S -E -m compileall -q -b -s "$root" --invalidation-mode unchecked-hash . >/dev/null
  find . -name '*.py' -delete
)
# Every library that one of these asks for.
{
  for program in ip bridge ss nft dnsmasq radvd conntrack tcpdump wg python3; do echo "$root/bin/$program"; done
  find "$root/lib/$version" -name '*.so'
} | while read -r program; do load --list "$program"; done |
  sed -n "s|.* => \($work/from/[^ ]*\) .*|\1|p" | sort -u | while read -r library; do
  cp -L "$library" "$root/lib/x86_64-linux-gnu/"
done
cp -L "$loader" "$root/lib64/ld-linux-x86-64.so.2"

# Modules with all that they ask for, in the order in which they can be loaded.
modules=$(find "$work/from" -type d -path '*/modules/*/kernel' | head -n 1)
order=0
add_module() {
  file=$(find "$modules" -name "$1.ko*" -type f | head -n 1)
  [ -n "$file" ] || return 0
  ! ls "$root/modules" | grep -q "^[0-9]*-$1\.ko" || return 0
  for other in $(depends_of "$file"); do add_module "$other"; done
  file=$(find "$modules" -name "$1.ko*" -type f | head -n 1) # the inner call has its own
  order=$((order + 1))
  cp "$file" "$root/modules/$(printf '%03d' $order)-$(basename "$file")"
}
# A module says what it asks for in its section .modinfo, as text: depends=one,two
depends_of() { grep -aoE 'depends=[A-Za-z0-9_,-]*' "$1" | head -n 1 | sed 's/depends=//' | tr ',' '\n' | sed 's/_/[_-]/g'; }
while read -r name; do case $name in ''|'#'*) ;; *) add_module "$name" ;; esac; done <"$here/modules.txt"

# dnsmasq looks for the user it runs as.
echo 'root:x:0:0:root:/:/bin/sh' >"$root/etc/passwd"
echo 'root:x:0:' >"$root/etc/group"
cp "$here/init" "$root/init"
cp "$here/boot.py" "$root/boot.py"
chmod 755 "$root/init"
busybox="$work/from/bin/busybox"
[ -x "$busybox" ] || busybox=$(find_program busybox)
(cd "$root" && find . | LC_ALL=C sort | "$busybox" cpio -o -H newc -R 0:0 2>/dev/null) | gzip -1 -n >"$out/initramfs.part"
cp "$work"/from/boot/vmlinuz-* "$out/kernel"
mv "$work/packages.txt" "$out/packages.txt"
rm -rf "$work"
mv "$out/initramfs.part" "$out/initramfs"
