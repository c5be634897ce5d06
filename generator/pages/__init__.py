"""WorkPack -> site."""
