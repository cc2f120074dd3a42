"""The command line: one file per verb, each as thin as it can be.

Conventions: results go to standard output, progress and complaints to standard error; a command's
own libraries are imported in its body, so that the help page loads none of them. Exit status: 0
done, 1 cannot go on, 2 wrong usage, 130 stopped by Ctrl-C with everything recorded until then kept.
"""
