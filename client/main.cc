#include "client/verbs/program.h"

#include <exception>
#include <iostream>

int main(int argc, char** argv) {
    try {
        return fieldpeg::verbs::run(argc, argv);
    } catch (const std::exception& error) {
        std::cerr << "fieldpeg: " << error.what() << '\n';
        return 1;
    }
}
