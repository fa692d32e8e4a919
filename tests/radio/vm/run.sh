#!/bin/bash
# Boots a small virtual machine with the real Bluetooth stack of Linux and runs needlerest in it:
# kernel with virtual controllers (hci_vhci), bluetoothd, btvirt, all of Debian 12; the reference
# sensor (tests/radio/vm/peripheral.rs) on one controller, needlerest on the other.
#
#   tests/radio/vm/run.sh [folder]
#
# Needs x86-64 Debian 12 with apt, cargo, dbus-daemon; no rights, no hardware, no KVM. Packages are
# unpacked into the folder (default: target/vm), nothing is installed. Writes there vm.log (what
# the machine printed) and vm.nrs (the recording made in it), and checks both.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
top=$(cd "$here/../../.." && pwd)
vm=${1:-$top/target/vm}
mkdir -p "$vm/debs"

kernel=$(apt-cache depends linux-image-amd64 | sed -n 's/.*Depends: //p' | head -1)
if [ ! -d "$vm/root" ]; then
    packages="$kernel kmod bluez bluez-test-tools busybox-static qemu-system-x86"
    packages+=" qemu-system-common qemu-system-data seabios ipxe-qemu"
    # Libraries of qemu that are not on this machine; versions are those that apt offers.
    packages+=" $(apt-cache depends qemu-system-x86 | sed -n 's/.*Depends: \(lib[^ <]*\).*/\1/p')"
    packages+=" liborc-0.4-0 libgstreamer-plugins-base1.0-0 libnl-3-200 libnl-route-3-200"
    packages+=" libdaxctl1 libndctl6 libexecs0"
    (cd "$vm/debs" && apt-get download $packages)
    mkdir "$vm/root.new"
    for deb in "$vm"/debs/*.deb; do dpkg-deb -x "$deb" "$vm/root.new"; done
    mv "$vm/root.new" "$vm/root"
fi
root=$vm/root
libraries=$root/usr/lib/x86_64-linux-gnu:$root/lib/x86_64-linux-gnu

(cd "$top" && cargo build --quiet --bin needlerest --example vm-peripheral)
built=${CARGO_TARGET_DIR:-$top/target}/debug

# --- the file system of the machine
image=$vm/image
rm -rf "$image"
mkdir -p "$image"/{bin,lib,lib64,dev,proc,sys,etc/bluetooth,run/dbus,tmp,var/lib/bluetooth}
ln -s /run "$image/var/run"
cp "$root/bin/busybox" "$image/bin/"
for applet in sh mount mkdir cat cut sleep insmod ip uname stty poweroff head tail grep; do
    ln -s busybox "$image/bin/$applet"
done
programs=("$built/needlerest" "$built/examples/vm-peripheral" "$root/usr/libexec/bluetooth/bluetoothd"
    "$root/usr/bin/btvirt" "$(command -v dbus-daemon)" "$(command -v dbus-send)")
for program in "${programs[@]}"; do
    cp "$program" "$image/bin/"
    LD_LIBRARY_PATH=$libraries ldd "$program" | grep -o '/[^ ]*' | while read -r library; do
        case $library in
        */ld-linux*) cp -L "$library" "$image/lib64/" ;;
        *) cp -L "$library" "$image/lib/" ;;
        esac
    done
done
strip "$image/bin/needlerest" "$image/bin/vm-peripheral" 2>/dev/null || true
# Sensors speak over one ATT bearer. Between its own controllers BlueZ would open three, and
# notifications that go over several of them overtake one another.
printf '[GATT]\nChannels=1\n[Policy]\nAutoEnable=false\n' >"$image/etc/bluetooth/main.conf"
echo 'root:x:0:0::/:/bin/sh' >"$image/etc/passwd"
echo 'root:x:0:' >"$image/etc/group"
cat >"$image/bus.conf" <<'CONF'
<busconfig><type>system</type><listen>unix:path=/run/dbus/system_bus_socket</listen>
<auth>EXTERNAL</auth><policy context="default"><allow send_destination="*"/><allow own="*"/>
<allow receive_sender="*"/></policy></busconfig>
CONF

# --- the kernel's modules, each after those it needs
version=$(basename "$root"/lib/modules/*)
(export LD_LIBRARY_PATH=$libraries && exec -a depmod "$root/bin/kmod" -b "$root" "$version")
mkdir -p "$image/modules"
: >"$image/modules.order"
add() {
    local line dependency
    line=$(grep "/$1\.ko:" "$root/lib/modules/$version/modules.dep") || return 0
    for dependency in $(echo "${line#*:}" | tr ' ' '\n' | tac) "${line%%:*}"; do
        local file=/modules/$(basename "$dependency")
        [ -e "$image$file" ] && continue
        cp "$root/lib/modules/$version/$dependency" "$image$file"
        echo "$file" >>"$image/modules.order"
    done
}
for module in cmac ecb algif_hash algif_skcipher ecdh_generic bluetooth hci_vhci; do add $module; done

cp "$here/init" "$image/init"
chmod +x "$image/init"
(cd "$image" && find . | "$root/bin/busybox" cpio -o -H newc 2>/dev/null) | gzip -1 >"$vm/initramfs.gz"

# --- boot
rm -f "$vm/vm.nrs"
begun=$(date +%s)
LD_LIBRARY_PATH=$libraries timeout 400 "$root/usr/bin/qemu-system-x86_64" \
    -accel tcg -m 512 -nodefaults -no-reboot -display none -nic none \
    -L "$root/usr/share/qemu" -L "$root/usr/share/seabios" \
    -kernel "$root"/boot/vmlinuz-"$version" -initrd "$vm/initramfs.gz" \
    -append "console=ttyS0 quiet panic=1 no_timer_check" \
    -serial "file:$vm/console" -serial "file:$vm/vm.nrs" </dev/null
tr -d '\r' <"$vm/console" | tee "$vm/vm.log"
echo "whole run: $(($(date +%s) - begun)) s, initramfs $(du -h "$vm/initramfs.gz" | cut -f1)" | tee -a "$vm/vm.log"

# --- check
grep -q "All is well" "$vm/vm.log"
grep -q "the link is back" "$vm/vm.log"
grep -q "It keeps what its protocol file promises" "$vm/vm.log"
grep -q '"type":"seal"' "$vm/vm.nrs"
echo "the virtual machine's run is good"
