# Writes OUTPUT, a C++ source of FLOOR that holds the text of FILES. Run by the build with cmake -P.
set(entries "")
foreach(file IN LISTS FILES)
    get_filename_component(name ${file} NAME)
    file(READ ${file} text)
    string(APPEND entries "    if (name == \"${name}\") return R\"embedded(${text})embedded\";\n")
endforeach()
file(WRITE ${OUTPUT} "#include \"server/${FLOOR}/embedded.h\"\n
namespace fieldpeg::${FLOOR} {\n
std::string_view embedded_file(std::string_view name) {
${entries}    return {};
}\n
}  // namespace fieldpeg::${FLOOR}\n")
