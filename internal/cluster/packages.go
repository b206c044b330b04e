package cluster

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// missing says what to install on this machine.
func missing() *MissingError {
	if _, err := exec.LookPath("apt-get"); err != nil {
		return &MissingError{Line: fmt.Sprintf("(no apt-get here: install PostgreSQL %d or newer and its PostGIS extension with this system's own package manager)", MinPostgreSQL)}
	}
	release, err := os.ReadFile("/etc/os-release")
	if err != nil {
		release = nil // only a hint
	}
	return missingPackage(choosePackage(offered(), installedMajors(), string(release)))
}

func missingPackage(name string) *MissingError {
	sudo := "sudo "
	if os.Geteuid() == 0 {
		sudo = ""
	}
	return &MissingError{
		Packages: []string{name},
		Line:     sudo + "apt-get update && " + sudo + "apt-get install -y --no-install-recommends " + name,
	}
}

var postgisPackage = regexp.MustCompile(`(?m)^postgresql-(\d+)-postgis-3\b(?: |$)`)

// offered lists the major versions whose PostGIS package apt knows of.
func offered() []int {
	out, err := exec.Command("apt-cache", "search", "--names-only", `^postgresql-[0-9]+-postgis-3$`).Output()
	if err != nil {
		return nil // choosePackage then goes by the system's version
	}
	return parseOffered(string(out))
}

func parseOffered(out string) []int {
	var majors []int
	for _, m := range postgisPackage.FindAllStringSubmatch(out, -1) {
		if n, err := strconv.Atoi(m[1]); err == nil {
			majors = append(majors, n)
		}
	}
	return majors
}

// installedMajors lists the versions whose server is installed, with PostGIS
// or without.
func installedMajors() map[int]bool {
	majors := map[int]bool{}
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/postgres")
	if err != nil {
		return majors
	}
	for _, f := range found {
		if n, err := strconv.Atoi(filepath.Base(filepath.Dir(filepath.Dir(f)))); err == nil {
			majors[n] = true
		}
	}
	return majors
}

// The PostgreSQL versions that Debian's and Ubuntu's releases carry, from
// memory: used only while apt's lists are empty, as on a new container.
var carried = map[string]int{
	"debian 12": 15, "debian 13": 17,
	"ubuntu 24.04": 16, "ubuntu 24.10": 16, "ubuntu 25.04": 17, "ubuntu 25.10": 17,
}

// choosePackage picks the package to install: for a server that is installed
// already, so that only PostGIS is added to it, else the newest on offer.
func choosePackage(offered []int, installed map[int]bool, osRelease string) string {
	best := 0
	for _, n := range offered {
		if n < MinPostgreSQL {
			continue
		}
		if installed[n] == installed[best] && n > best || installed[n] && !installed[best] {
			best = n
		}
	}
	if best == 0 {
		best = carried[releaseField(osRelease, "ID")+" "+releaseField(osRelease, "VERSION_ID")]
	}
	if best == 0 {
		return "postgresql-postgis" // depends on the release's own version
	}
	return fmt.Sprintf("postgresql-%d-postgis-3", best)
}

// releaseField reads one field of an os-release file.
func releaseField(text, name string) string {
	for line := range strings.Lines(text) {
		if v, ok := strings.CutPrefix(strings.TrimSpace(line), name+"="); ok {
			return strings.Trim(v, `"'`)
		}
	}
	return ""
}
