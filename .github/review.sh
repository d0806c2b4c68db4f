#!/usr/bin/env bash
# What action.yml runs: checks sites, compares each with the base, shows what it finds where the change is reviewed.
# Reads SITE, BASE and FAIL_ON (see action.yml) and what a CI tells its steps: GITHUB_ACTION_PATH, RUNNER_TEMP, GITHUB_STEP_SUMMARY,
# GITHUB_OUTPUT. Exit 0, or 1 where something was found that FAIL_ON names, or where nothing could be judged.
set -u

out="$RUNNER_TEMP/dryrack"
fell=()
# A checkout may belong to somebody else than the one who runs this, as in a container: git reads it all the same.
export GIT_CONFIG_COUNT=1 GIT_CONFIG_KEY_0=safe.directory GIT_CONFIG_VALUE_0="*"

fails_on() { [[ " ${FAIL_ON//,/ } " == *" $1 "* ]]; }

# Runs a command of dryrack with all its reports: what a person reads goes to the log, where no line of a plan is taken for a command
# to the CI; then the notes, which are such commands; then the summary. Answers with the exit status.
judge() {
  local name=$1 command=$2 token status
  shift 2
  token=$(od -An -N16 -tx1 /dev/urandom | tr -d ' \n')
  printf '::stop-commands::%s\n' "$token"
  node "$GITHUB_ACTION_PATH/dist/cli.js" "$command" --format annotations --output "$out/$name.notes" \
    --format markdown --output "$out/$name.md" --format sarif --output "$out/sarif/$name.sarif" --format terminal "$@" 2>&1
  status=$?
  printf '\n::%s::\n' "$token"
  if [ -f "$out/$name.notes" ]; then cat "$out/$name.notes"; fi
  if [ -f "$out/$name.md" ]; then summarise "$out/$name.md"; fi
  return "$status"
}

# A summary of more than a mebibyte is not shown at all.
summarise() {
  local room=$((1000000 - $(wc -c <"$GITHUB_STEP_SUMMARY")))
  if [ "$(wc -c <"$1")" -le "$room" ]; then
    { cat "$1" && printf '\n'; } >>"$GITHUB_STEP_SUMMARY"
  elif [ "$room" -gt 1000 ]; then
    { head -c $((room - 1000)) "$1" && printf '\n```\n\nThere is more, and no room for it here: see the log.\n'; } >>"$GITHUB_STEP_SUMMARY"
  fi
}

# Says why nothing more can be done.
give_up() {
  printf '::error title=dryrack::%s\n' "${1//[[:cntrl:]]/ }"
  exit 1
}

# What an exit status means for this step.
weigh() {
  case $2 in
    0) ;;
    1) if [ "$1" != check ] || fails_on broken; then fell+=("$1"); fi ;;
    4) if fails_on undecided; then fell+=("$1: undecided"); fi ;;
    *) fell+=("$1: exit status $2") ;;
  esac
}

# Folders of the sites that are meant, without a slash at the end.
sites() {
  if [ -z "$SITE" ]; then
    for folder in topologies/*/; do printf '%s\n' "${folder%/}"; done
  elif [ -d "topologies/$SITE" ]; then
    printf '%s\n' "topologies/$SITE"
  else
    printf '%s\n' "${SITE%/}"
  fi
}

compare_with_base() {
  local folder words=()
  git cat-file -e "$BASE^{commit}" 2>/dev/null || git fetch --quiet --no-tags --depth=1 origin "$BASE" ||
    give_up "the base \`$BASE\` is no commit here and cannot be fetched"
  for change in newly-allowed newly-forbidden; do if fails_on "$change"; then words+=(--fail-on "$change"); fi; done
  while read -r folder; do
    if ! git cat-file -e "$BASE:./$folder" 2>/dev/null; then
      # Whoever proposes a change chooses this name: it must not begin a line, nor end one.
      printf 'there is nothing to compare %q with: it is new\n' "$folder"
      continue
    fi
    judge "compare-${folder##*/}" compare ${words[@]+"${words[@]}"} -- "$folder" "$BASE"
    weigh compare "$?"
  done < <(sites)
}

for word in ${FAIL_ON//,/ }; do
  case $word in
    broken | undecided | newly-allowed | newly-forbidden) ;;
    *) give_up "fail-on knows broken, undecided, newly-allowed and newly-forbidden, and not \`$word\`" ;;
  esac
done
case $BASE in -*) give_up "the base \`$BASE\` is no revision: it would be an option of git" ;; esac
rm -rf "$out"
mkdir -p "$out/sarif"
printf 'sarif=%s\n' "$out/sarif" >>"$GITHUB_OUTPUT"

if [ -z "$SITE" ]; then judge check check; else judge check check -- "$(sites)"; fi
checked=$?
weigh check "$checked"
# What could not be read cannot be compared.
if [ -n "$BASE" ] && [ "$checked" -ne 2 ] && [ "$checked" -ne 3 ]; then compare_with_base; fi
printf 'status=%s\n' "$checked" >>"$GITHUB_OUTPUT"
[ "${#fell[@]}" -eq 0 ]
