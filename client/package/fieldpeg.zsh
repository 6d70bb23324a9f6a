#compdef fieldpeg
# What may stand where the cursor is, fieldpeg itself knows: verbs and flags by their one definition,
# pilots, channels and groups of the day that was joined.
_fieldpeg() {
    local -a given found said
    local word what
    given=("${(@Q)words[2,CURRENT]}")
    [[ -n ${given[-1]} ]] || given[-1]=':'
    while IFS=$'\t' read -r word what; do
        if [[ $word == @files ]]; then
            _files
            return
        fi
        found+=("$word")
        said+=("${word}${what:+  -- $what}")
    done < <(fieldpeg complete -- "${given[@]}" 2> /dev/null)
    (( ${#found} )) && compadd -l -M 'm:{a-zA-Z}={A-Za-z}' -d said -a found
}
_fieldpeg "$@"
