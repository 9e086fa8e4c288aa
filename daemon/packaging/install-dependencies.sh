#!/bin/sh
# Installs from Debian what is missing to build stillmark, or to test it; what is there stays as it is.
#   sh install-dependencies.sh build    to build the programs
#   sh install-dependencies.sh test     to build and test them
# Made for Debian 12 and newer. Needs root only where something is missing.
set -eu

refuse() {
    printf '%s\n' "$*" >&2
    exit 2
}

# Debian 12's own libboost-dev is 1.74, in which the `result` type is missing.
boost_package() {
    release=$(sed -n 's/^VERSION_ID="\{0,1\}\([0-9]*\).*/\1/p' /etc/os-release 2>/dev/null)
    case $release in
        12) echo libboost1.81-dev ;;
        *) echo libboost-dev ;;
    esac
}

build_packages() {
    echo g++ cmake ninja-build pkg-config
    boost_package
    echo libmodbus-dev libspdlog-dev libfmt-dev nlohmann-json3-dev libsqlite3-dev libcli11-dev libncurses-dev libssl-dev
    echo libjs-dygraphs
    # The printed and the digital certificate; Noto because it has letters for names in nearly every script.
    echo libpango1.0-dev libcairo2-dev libqpdf-dev libqrencode-dev libpugixml-dev fonts-noto-core fonts-dejavu-core
    echo libhowardhinnant-date-dev tzdata
}

# The last line is what SciPy needs to run. SciPy itself is not here: python3-scipy wants python3-pythran, which wants
# libboost-dev, which cannot stand beside libboost1.81-dev. tests/run.sh unpacks it into the build folder instead.
test_packages() {
    echo libgtest-dev libgeographiclib-dev clang-format clang-tidy
    # pymodbus only recommends serial-asyncio, but its server does not start without.
    echo python3 python3-pymodbus python3-serial python3-serial-asyncio python3-pexpect python3-uncertainties mbpoll git
    echo python3-jsonschema openssl
    # The page is tested in a real browser, documents by programs that read them.
    echo chromium chromium-driver python3-selenium
    echo poppler-utils qpdf libxml2-utils zbar-tools libreoffice-calc
    echo python3-numpy python3-decorator libblas3 liblapack3 libgfortran5 liblbfgsb0
}

command -v dpkg-query >/dev/null && command -v apt-get >/dev/null ||
    refuse "This is not Debian. What stillmark needs there is named:" $(build_packages)

case ${1-} in
    build) wanted=$(build_packages) ;;
    test) wanted="$(build_packages) $(test_packages)" ;;
    *) refuse "usage: sh $0 build|test" ;;
esac

missing=
for package in $wanted; do
    case $(dpkg-query -W -f='${db:Status-Status}' "$package" 2>/dev/null || true) in
        installed) ;;
        *) missing="$missing $package" ;;
    esac
done
if [ -z "$missing" ]; then
    echo "Packages: all there."
    exit 0
fi

echo "Packages missing:$missing"
[ "$(id -u)" -eq 0 ] || refuse "Only root can install them: run this once as root:  sh $(cd "$(dirname "$0")" && pwd)/$(basename "$0") $1"
export DEBIAN_FRONTEND=noninteractive
apt-get update
# --no-remove: nothing that somebody put on this machine is taken away to make room.
# shellcheck disable=SC2086 # a list of words
apt-get install -y --no-remove --no-install-recommends $missing ||
    refuse "apt could not install them; its own words stand above. Nothing was removed."
echo "Packages: installed."
