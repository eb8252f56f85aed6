"""How a case is read: places in it, mistakes told in one sentence, its JSON Schema."""
