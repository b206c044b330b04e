package main

import (
	"bufio"
	"context"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"sixmile/internal/bag"
	"sixmile/internal/postgres/yardstick"
)

const (
	writers  = 8
	perRound = 2000 // forms
	turns    = 3
)

var (
	chosenOf = regexp.MustCompile(`<option value="(\d+)" selected`)
	optionOf = regexp.MustCompile(`<option value="(\d+)"`)
)

// measurePosts sends forms of one bag by eight writers, each acknowledged once it
// is on disk, and has pgbench put the same rows in by eight clients.
func measurePosts(ctx context.Context, put func(row), log io.Writer) error {
	return serving(ctx, log, func(s *site, p *process) error { return comparePosts(ctx, put, log, s, p) }, "pgbench")
}

func comparePosts(ctx context.Context, put func(row), log io.Writer, s *site, p *process) error {
	draw := func(n int) (codes []string, err error) {
		for range n {
			c, err := bag.Draw(rand.Reader)
			if err != nil {
				return nil, err
			}
			codes = append(codes, string(c))
		}
		return codes, nil
	}
	form, _, err := fetch(p.base+"/send?county=quillmere", "")
	if err != nil {
		return err
	}
	county, township, err := somewhere(form)
	if err != nil {
		return err
	}
	mine, err := draw(turns * perRound)
	if err != nil {
		return err
	}
	theirs, err := draw(turns * perRound)
	if err != nil {
		return err
	}
	at, err := strconv.Atoi(county)
	if err != nil {
		return err
	}
	there, err := strconv.Atoi(township)
	if err != nil {
		return err
	}
	if err := errors.Join(yardstick.Bags(ctx, s.logins, append(mine, theirs...), at, false), yardstick.Handed(ctx, s.logins, theirs)); err != nil {
		return err
	}
	var a, b []float64
	for i := range turns {
		rate, err := post(p.base, county, township, mine[i*perRound:(i+1)*perRound])
		if err != nil {
			return err
		}
		a = append(a, rate)
		if rate, err = yardstick.Bench(ctx, log, s.logins, yardstick.Script(there, at), writers, perRound/writers); err != nil {
			return err
		}
		b = append(b, rate)
	}
	put(atLeast("durable forms, 8 writers, against pgbench", "forms/s", middle(a), middle(b), 0.6))
	return nil
}

// somewhere is a county and a township of it, as the form has them.
func somewhere(form []byte) (county, township string, err error) {
	in := func(name string) string {
		_, rest, _ := strings.Cut(string(form), `name="`+name+`"`)
		list, _, _ := strings.Cut(rest, "</select>")
		if m := chosenOf.FindStringSubmatch(list); m != nil {
			return m[1]
		}
		if m := optionOf.FindStringSubmatch(list); m != nil {
			return m[1]
		}
		return ""
	}
	county, township = in("bag.0.county"), in("bag.0.township")
	if county == "" || township == "" {
		err = errors.New("the form has no place to choose")
	}
	return county, township, err
}

// post sends every code by eight browsers, each on a connection that stays open,
// and says how many forms a second were acknowledged. What asks takes its share of
// the machine, as pgbench does; so it does no more than it must.
func post(base, county, township string, codes []string) (rate float64, err error) {
	asks := make([][]byte, len(codes))
	today := time.Now().UTC().AddDate(0, 0, -1).Format(time.DateOnly)
	for i, code := range codes {
		if asks[i], err = formOf(strings.TrimPrefix(base, "http://"), county, township, code, today); err != nil {
			return 0, err
		}
	}
	errs := make([]error, writers)
	var wg sync.WaitGroup
	start := time.Now()
	for i := range writers {
		wg.Go(func() { errs[i] = postAll(strings.TrimPrefix(base, "http://"), asks, i) })
	}
	wg.Wait()
	return float64(len(codes)) / time.Since(start).Seconds(), errors.Join(errs...)
}

// formOf is the request that sends a form of one bag.
func formOf(host, county, township, code, day string) ([]byte, error) {
	var token [16]byte
	if _, err := rand.Read(token[:]); err != nil {
		return nil, err
	}
	form := url.Values{
		"token": {base64.RawURLEncoding.EncodeToString(token[:])}, "do": {"send"}, "standing.0": {"first"}, "bag.0.grower": {"0"},
		"bag.0.code": {code}, "bag.0.county": {county}, "bag.0.township": {township}, "bag.0.day": {day}, "bag.0.crop": {"soybean"},
	}.Encode()
	return fmt.Appendf(nil, "POST /send HTTP/1.1\r\nHost: %s\r\nAccept: text/html\r\nAccept-Encoding: gzip\r\nAccept-Language: en\r\n"+
		"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: %d\r\n\r\n%s", host, len(form), form), nil
}

// postAll sends every eighth form, from the first'th on, over one connection.
func postAll(host string, asks [][]byte, first int) error {
	c, err := net.Dial("tcp", host)
	if err != nil {
		return err
	}
	defer c.Close()
	in := bufio.NewReaderSize(c, 1<<16)
	for i := first; i < len(asks); i += writers {
		if _, err := c.Write(asks[i]); err != nil {
			return err
		}
		res, err := http.ReadResponse(in, nil)
		if err != nil {
			return err
		}
		if res.StatusCode != http.StatusOK {
			return fmt.Errorf("a form was answered %s", res.Status)
		}
		if _, err := io.Copy(io.Discard, res.Body); err != nil {
			return err
		}
	}
	return nil
}
