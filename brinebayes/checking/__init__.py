"""Checking: is a model more than well-formed? The only maker of `CheckedModel`.

remark           one finding, its severity and its place in the files
provenance       where the numbers come from, and notes that say nothing of their own
applicability    what can exist or be done at no site
shares           does the exact network give back the stated shares of calls?
zeros            probabilities of nought that one slip would run into
informativeness  outcomes that never come about, checks that can never tell anything
identifiability  faults that no check tells apart
remedies         faults that nothing repairs, repairs that clear nothing, licensed work
safety           acts that no safe route leads to, cautions that are missing
second_opinion   what pgmpy's own check says of the network
examine          all of these over one model
proof            `prove(model)`: refuse it or hand out a `CheckedModel`
ready            `ready(folder)`: the same through the cache
report           everything a reader of `model check` should know
"""
