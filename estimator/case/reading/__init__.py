"""How a case is read: places in it, mistakes reported in one sentence, its JSON Schema."""
