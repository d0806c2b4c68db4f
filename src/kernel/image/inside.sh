#!/bin/busybox sh
# The first program of the container: the machine, with this one's input as its job channel and its console as complaints.
# Arguments are the machine's. All ends when the input closes or when the machine ends, whichever comes first.
set -eu
/bin/busybox mkfifo /tmp/job /tmp/console
/bin/busybox cat /tmp/console >&2 &
exec 3<&0
qemu-system-x86_64 "$@" -kernel /machine/kernel -initrd /machine/initramfs -chardev pipe,id=console,path=/tmp/console </tmp/job &
machine=$!
{ /bin/busybox cat <&3 >/tmp/job; kill -KILL "$machine"; } &
wait "$machine"
