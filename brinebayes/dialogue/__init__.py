"""One visit from door to door, without input or output.

    prompt     what the technician is asked, as data
    stage      which prompt comes next, from what is known
    commands   what a typed line means
    leaving    how a visit ends, and the list for leaving the site
    meanwhile  what can be done while a check waits
    dialogue    a visit at one moment; `proceed` takes a turn and makes the next prompt
    answer     what a line means at this prompt: events to record, things to say
    words      typed words that name things of the model

A shell reads a line, calls `answer`, puts the events on the disk, calls `proceed`, and shows the
new prompt. Nothing here waits, reads a clock or touches a file.
"""
