# What may stand where the cursor is, fieldpeg itself knows: verbs and flags by their one definition,
# pilots, channels and groups of the day that was joined.
function __fieldpeg
    set -l words (commandline -opc)[2..-1] (commandline -ct)
    test -n "$words[-1]"; or set words[-1] ':'
    for line in (fieldpeg complete -- $words 2>/dev/null)
        if string match -q '@files*' -- $line
            __fish_complete_path (commandline -ct)
        else
            echo $line
        end
    end
end
complete -c fieldpeg -f -a '(__fieldpeg)'
