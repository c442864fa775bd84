"""A whole machine with a kernel of its own, in QEMU: gauges on emulated USB adapters, read by real drivers.

    pytest --machine tests/machine            the short form: some 80 s
    pytest --machine --heavy tests/machine    all of it

Debian's kernel boots with this machine's file system, read-only, as its own: the wheel runs there under the
interpreter that `--machine-python` names (without it: under this one, from a wheel that is built first).
Needed are QEMU, busybox, cpio and kmod, which root gets by apt, and the kernel's package; what is fetched
lies in a cache (`RINGTRUE_MACHINE_CACHE`, else ~/.cache/ringtrue-machine). KVM is not used: within many
virtual machines there is none to be had, and all works without.

What such a machine proves is drivers and hot-plug, neither speed nor parity: the adapter passes bytes as they
are, at once.
"""
