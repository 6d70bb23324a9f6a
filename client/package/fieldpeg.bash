# What may stand where the cursor is, fieldpeg itself knows: verbs and flags by their one definition,
# pilots, channels and groups of the day that was joined.
_fieldpeg() {
    local -a words found
    local word what cur=${COMP_WORDS[COMP_CWORD]}
    words=("${COMP_WORDS[@]:1:COMP_CWORD}")
    # As the program will get them: without the quotes that the shell takes away.
    local i
    for i in "${!words[@]}"; do
        word=${words[i]}
        case $word in
            \"* | \'*) word=${word:1} ;;
        esac
        words[i]=${word//\\/}
    done
    [ -n "${words[-1]}" ] || words[-1]=':'
    while IFS=$'\t' read -r word what; do
        if [ "$word" = @files ]; then
            mapfile -t found < <(compgen -f -- "$cur")
            compopt -o filenames 2> /dev/null
        elif [[ $cur == [\"\']* ]]; then
            found+=("$word")
        else
            found+=("$(printf %q "$word")")
        fi
    done < <(fieldpeg complete -- "${words[@]}" 2> /dev/null)
    COMPREPLY=("${found[@]}")
}
complete -F _fieldpeg fieldpeg
