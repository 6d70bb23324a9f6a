// Only so that its precompiled headers belong to something.
