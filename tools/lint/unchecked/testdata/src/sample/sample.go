package sample

import (
	"fmt"
	"os"
)

func write(name string) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	defer f.Close()
	defer os.Remove(name + ".part")
	fmt.Fprintln(os.Stderr, "writing", name)
	os.Rename(name, name+".old") // want `the error of os.Rename is not looked at`
	f.Sync()                     // want `the error of .* is not looked at`
	f.Close()                    // want `the error of .* is not looked at`
	return nil
}
