package stat
