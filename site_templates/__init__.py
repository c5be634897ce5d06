"""Data of Wallwork: templates, words, assets, steps and cautions, the first files of a new job."""
