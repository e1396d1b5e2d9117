#!/bin/sh
# board.sh FOLDER: the settings of mosquitto for the shop's board, written into FOLDER: accounts with passwords from the environment, and who may
# tell (bench) or only listen (office).
set -eu
: "${BENCHHAND_BENCH_PASSWORD:?the password of the account bench}" "${BENCHHAND_OFFICE_PASSWORD:?the password of the account office}"
folder=$1
accounts=$folder/benchhand.accounts
umask 077
: >"$accounts"
mosquitto_passwd -b "$accounts" bench "$BENCHHAND_BENCH_PASSWORD"
mosquitto_passwd -b "$accounts" office "$BENCHHAND_OFFICE_PASSWORD"
printf 'user bench\ntopic readwrite benchhand/#\nuser office\ntopic read benchhand/#\n' >"$folder/benchhand.acl"
printf 'listener %s\nallow_anonymous false\npassword_file %s\nacl_file %s\n' \
  "${BENCHHAND_MQTT_PORT:-1883}" "$accounts" "$folder/benchhand.acl" >"$folder/benchhand.conf"
# mosquitto gives its rights up when it has started, and has to read these all the same.
if [ "$(id -u)" = 0 ] && id mosquitto >/dev/null 2>&1; then chown mosquitto "$accounts" "$folder/benchhand.acl" "$folder/benchhand.conf"; fi
