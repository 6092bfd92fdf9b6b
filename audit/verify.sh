#!/usr/bin/env bash
# Whether a log is closed, by common tools alone: sed, jq, sha256sum, OpenSSL 3, ssh-keygen 9.1.
#   bash verify.sh LOG [ALLOWED_SIGNERS]    one line, the result first; exit code 0 only for
#   `closed`, else 1. Without ALLOWED_SIGNERS the best is `untrusted`.
# Checked: spelling as jq has it, base64, seq, prev, order, each line's own signature, the roster's
# signatures and who owes one, count. Not checked: keys of small order, acceptances, and all that
# verify_independent.py does not check either. It takes some 0.1 s a line.
set -uo pipefail
export LC_ALL=C
[[ $# -ge 1 && $# -le 2 && -r $1 && -r ${2:-/dev/null} ]] ||
    { echo "usage: verify.sh LOG [ALLOWED_SIGNERS]" >&2; exit 1; }
tmp=$(mktemp -d) || exit 1
trap 'rm -rf "$tmp"' EXIT
declare -A people=() # everybody ever aboard: name, key
seq=0 phase=empty head='' key='' due='' doubted='' order=() tab=$'\t'
no() { echo "rejected: line $seq: $1"; exit 1; }
raw() { [[ $(base64 -d <<<"$1" | base64 -w0) == "$1" ]] && base64 -d <<<"$1"; } 2>/dev/null
vouched() { # ALLOWED_SIGNERS: what ssh-keygen says of this line's signature over $tmp/message
    ssh-keygen -Y verify -f "$1" -I "$name" -n "$space" -s "$tmp/armour" \
        -O "verify-time=${at:0:14}Z" <"$tmp/message" >/dev/null 2>&1
}
# a key that is revoked in one row counts in none, there being no witness at hand
grep '[[:space:]]revoked=' "${2:-/dev/null}" | grep -o 'AAAAC3Nza[A-Za-z0-9+/=]*' >"$tmp/revoked"
grep -vFf "$tmp/revoked" "${2:-/dev/null}" >"$tmp/allowed"
cmp -s <(tr -d '\0' <"$1") "$1" || no "a NUL byte somewhere"
while IFS= read -r line; do
    printf '%s\n' "$line" >"$tmp/line"
    [[ $(jq -cS . "$tmp/line" 2>&1) == "$line" && $(sed 's/\\["\\]//g' "$tmp/line") != *\\* ]] ||
        no "not canonical"
    fields=$(jq -er 'select(keys == ["body", "sig"] and (.body | keys | join(" ")) ==
        "boot data mono next prev seq type wall") | [.sig, (.body | .type, .seq, .prev, .next,
        .wall), (.body.data | .key0, .line, .name, .sig, .head, .count, .format, .device,
        .run_seq)] | map(tostring) | join("\u001f")' "$tmp/line" 2>/dev/null) || no "no line"
    IFS=$'\x1f' read -r sig type n prev next wall key0 of name blob before count format \
        device run <<<"$fields"
    case $phase:$type in
        empty:open) [[ $format == 1 && ($run != 1 || $prev == "$device") ]] || no "no first line" ;;
        running:close) [[ -z $due && $count == "$seq" ]] || no "count $count, owed: $due" ;;
        running:resume | closing:resume)
            [[ $of == "$((seq - 1))" && $before == "$head" ]] || no "not the line before" ;;
        opening:open-sig | running:event | running:attach | running:resume-sig | closing:close-sig) ;;
        *) no "$type in a log that is $phase" ;;
    esac
    [[ $n == "$seq" && ($prev == "$head" || $seq == 0) ]] || no "seq or prev"
    [[ $type != open && $type != resume ]] || key=$key0
    sed -z 's/^{"body":/latchword\/audit\/entry@v1\n/; s/,"sig":"[^"]*"}\n$//' "$tmp/line" >"$tmp/body"
    { printf '\x30\x2a\x30\x05\x06\x03\x2b\x65\x70\x03\x21\x00' && raw "$key"; } >"$tmp/key" &&
        raw "$sig" >"$tmp/sig" && openssl pkeyutl -verify -pubin -keyform DER -inkey "$tmp/key" \
        -rawin -in "$tmp/body" -sigfile "$tmp/sig" >/dev/null 2>&1 || no "the line's own signature"
    while IFS=$tab read -r who listed; do
        [[ $who =~ ^[^][@*\"\$\`\\]+$ ]] || no "a name"
        [[ $type == event && ${people[$who]-} == "$listed" ]] && continue
        [[ -z ${people[$who]-} && " ${people[*]} " != *" $listed "* ]] || no "$who: two keys or names"
        people[$who]=$listed order+=("$who")
    done < <(jq -r '.body.data | if .roster then .roster[] else .crew_change // empty end |
        "\(.name)\t\(.key | ltrimstr("ssh-ed25519 "))"' "$tmp/line")
    case $type in
        open | close | resume)
            cp "$tmp/line" "$tmp/$seq"
            if [[ $phase == closing ]]; then
                due=$(sed "s/^[0-9]*/$seq/" <<<"$due")
            else
                due+=${due:+$'\n'}$(printf "$seq\t%s\n" "${order[@]}")
            fi
            case $type in open) phase=opening ;; close) phase=closing ;; esac ;;
        *-sig)
            at=${wall//[!0-9]/} space=${type%-sig}@latchword-v1
            grep -qxF "$of$tab$name" <<<"${due:-none}" || no "$name owes no such signature"
            [[ $type != open-sig || $due$'\n' == "$of$tab$name"$'\n'* ]] || no "not in roster order"
            { cat "$tmp/$of" && [[ $type != resume-sig ]] || echo "$head"; } >"$tmp/message"
            { # the only form there is, for this key and namespace, around 64 bytes of signature
                printf 'SSHSIG\0\0\0\1\0\0\0\x33' && raw "${people[$name]}" &&
                    printf "\0\0\0\x$(printf %x "${#space}")%s" "$space" &&
                    printf '\0\0\0\0\0\0\0\6sha512\0\0\0\x53' && raw "$blob" | tail -c 83
            } | cmp -s - <(raw "$blob") || no "not OpenSSH's form"
            printf -- '-----BEGIN SSH SIGNATURE-----\n%s\n-----END SSH SIGNATURE-----\n' \
                "$(fold -w 70 <<<"$blob")" >"$tmp/armour"
            printf '"%s" ssh-ed25519 %s\n' "$name" "${people[$name]}" >"$tmp/roster"
            vouched "$tmp/roster" || no "the signature of $name"
            vouched "$tmp/allowed" || doubted+=" $name"
            due=$(grep -vxF "$of$tab$name" <<<"$due")
            [[ -n $due ]] || case $phase in opening) phase=running ;; closing) phase=done ;; esac ;;
    esac
    [[ $phase == done && -z $next || $phase != done && $(raw "$next" | wc -c) == 32 ]] || no "next"
    key=$next head=$(sha256sum <"$tmp/line" | cut -c 1-64) seq=$((seq + 1))
done <"$1"
[[ -z $(tail -c 1 "$1") && -s $1 ]] || { [[ $phase == done ]] && no "bytes after the end" || echo "torn: line $seq"; exit 1; }
[[ $phase == done ]] || { echo "unclosed: $seq lines; owed: ${due//$'\n'/, }"; exit 1; }
[[ -z $doubted ]] || { echo "untrusted:$doubted"; exit 1; }
echo "closed: $seq lines, signed by ${order[*]}"
