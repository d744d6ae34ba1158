package terminal

// UsageError says what is wrong with the command line.
type UsageError string

func (e UsageError) Error() string { return string(e) }

// Usage says what is wrong with the command line, in a text under usage with its parameters.
func Usage(key string, with ...any) error { return UsageError(Text("usage."+key, with...)) }
