package main

import (
	"errors"
	"fmt"
	"os"
	"syscall"
)

// full says whether a disk had no room.
func full(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}

// sayWhy puts what the system says of a file that cannot be written into words
// for people.
func sayWhy(err error) error {
	why := cause(err)
	switch {
	case full(err):
		return fmt.Errorf("the disk is full (%w)", why)
	case errors.Is(err, syscall.EFBIG):
		return fmt.Errorf("a file of that size is not allowed here (%w)", why)
	case errors.Is(err, syscall.EROFS):
		return fmt.Errorf("that disk can only be read (%w)", why)
	case errors.Is(err, syscall.EIO), errors.Is(err, syscall.ENODEV), errors.Is(err, syscall.ENXIO):
		return fmt.Errorf("that disk does not answer, was it pulled out? (%w)", why)
	case errors.Is(err, os.ErrPermission):
		return fmt.Errorf("no permission (%w)", why)
	}
	return why
}

// cause drops names of temporary files from an error of the system.
func cause(err error) error {
	var p *os.PathError
	var l *os.LinkError
	switch {
	case errors.As(err, &p):
		return p.Err
	case errors.As(err, &l):
		return l.Err
	}
	return err
}
