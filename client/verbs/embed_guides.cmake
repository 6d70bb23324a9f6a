# Writes OUTPUT, a C++ source that holds the guides FILES. Run by the build with cmake -P.
file(WRITE ${OUTPUT} "#include \"client/verbs/guides.h\"\n\nnamespace fieldpeg::verbs {\n
std::span<const GuideText> guides() {\n    static const GuideText all[] = {\n")
foreach(file IN LISTS FILES)
    get_filename_component(topic ${file} NAME_WE)
    file(READ ${file} text)
    file(APPEND ${OUTPUT} "        {\"${topic}\", R\"guide(")
    file(APPEND ${OUTPUT} "${text}")
    file(APPEND ${OUTPUT} ")guide\"},\n")
endforeach()
file(APPEND ${OUTPUT} "    };\n    return all;\n}\n\n}  // namespace fieldpeg::verbs\n")
