//go:build !unix

package main

import "os"

const noFollow = 0

// A private database needs Linux, and elsewhere one server keeps the file.
func lockWhole(*os.File) error  { return nil }
func likeFolder(*os.File) error { return nil }
