package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"sixmile/internal/bag"
)

func contains(body string, code bag.Code) bool {
	return strings.Contains(body, string(code)) || strings.Contains(body, code.String())
}

// mark is in every script that is sent; where it comes back as a script it was
// reflected.
const mark = "zq7x"

var (
	poisons = []string{
		`' OR '1'='1`, `'; DROP TABLE priv.sample; --`, `1 UNION SELECT hash, sample FROM priv.answer_key`, `') || pg_sleep(5) --`,
		`$1`, `\'; SELECT 1`, "`id`", `$(id)`, `{{7*7}}`, `${jndi:ldap://127.0.0.1/x}`, `%s%s%n`, `../../../../etc/passwd`, `..%2f..%2fetc%2fpasswd`,
		`/etc/passwd%00.svg`, "\x00", "\xff\xfe\xfa", "\xc0\xaf\xc0\xae", `%c0%ae%c0%ae/`, "\u202e\u0000", "a\r\nSet-Cookie: x=1", "a%0d%0aSet-Cookie:%20x=1",
		`<script>` + mark + `(1)</script>`, `"><script>` + mark + `(1)</script>`, `"onmouseover="` + mark + `(1)`, `javascript:` + mark + `(1)`,
		`<img src=x onerror=` + mark + `(1)>`, `</textarea><svg onload=` + mark + `(1)>`, `'-` + mark + `(1)-'`,
		`-1`, `9223372036854775808`, `1e309`, `NaN`, `0x10`, `٣`, `2026-02-30`, `0000-00-00`, strings.Repeat("9", 400), strings.Repeat("é", 3000),
	}
	places = []string{
		"/", "/map.svg", "/county/{}", "/county/amber", "/county/{}/map.svg", "/county/amber/paper/{}", "/county/amber/print?of={}&show={}&paper={}",
		"/county/amber/years?show={}", "/county/amber/talk?{}={}", "/county/amber/meeting.html?x={}", "/send?county={}&township={}", "/send/townships?county={}&q={}",
		"/send/map?county={}", "/places/outlines.json?{}", "/answer/{}", "/bags?county={}", "/help?{}", "/static/{}", "/{}", "/office?to={}", "/office/{}",
		"/office/sign-in?to={}", "/office/welcome/{}", "/office/reset/{}", "/office/forgot?{}", "/office/trail.csv?who={}", "/office/people/{}", "/office/trays/{}", "/office/upload/{}", "/es/county/{}", "/healthz?{}",
	}
	fields = []string{
		"token", "do", "standing.0", "bag.0.grower", "bag.0.code", "bag.0.county", "bag.0.township", "bag.0.day", "bag.0.find", "bag.0.crop", "bag.0.ph",
		"bag.0.acres", "bag.1.grower", "bag.60.grower", "bag.-1.code", "find.0", "remove.0", "_method", "login", "to",
	}
	methods = []string{"GET", "GET", "GET", "HEAD", "POST", "POST", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "X" + mark}
)

// hostile sends requests that nobody means well with.
func (b *bench) hostile() error {
	s, err := b.serve()
	if err != nil {
		return err
	}
	if err := s.wait("/send", time.Minute); err != nil {
		return err
	}
	began := time.Now()
	slow := b.slowOnes(s)
	var mu sync.Mutex
	statuses, failed, reflected, leaked := map[int]int{}, 0, 0, 0
	tell := func(at string, status int, head http.Header, body []byte) {
		mu.Lock()
		defer mu.Unlock()
		statuses[status/100]++
		low := bytes.ToLower(body)
		switch {
		case status >= 500:
			failed++
			fmt.Fprintf(b.log, "%d for %.200q\n", status, at)
		case isReflected(low), head.Get("Set-Cookie") == "x=1":
			reflected++
			fmt.Fprintf(b.log, "reflected by %.200q\n", at)
		case bytes.Contains(low, []byte("sqlstate")), bytes.Contains(low, []byte("goroutine ")), bytes.Contains(low, []byte("root:x:0")):
			leaked++
			fmt.Fprintf(b.log, "internals for %.200q\n", at)
		}
	}
	var all sync.WaitGroup
	const hands = 8
	for h := range hands {
		all.Go(func() {
			c, r := client(), rand.New(rand.NewPCG(uint64(h), 12))
			for i := h; i < b.doses.hostile; i += hands {
				if i%20 == 19 {
					b.raw(s, r, tell)
					continue
				}
				req := poisoned(s, r)
				res, err := c.Do(req)
				if err != nil { // refused before there was an answer
					tell(req.URL.String(), 400, http.Header{}, nil)
					continue
				}
				body, _ := io.ReadAll(res.Body)
				res.Body.Close()
				tell(req.Method+" "+req.URL.String(), res.StatusCode, res.Header, body)
			}
		})
	}
	all.Wait()
	if err := <-slow; err != nil {
		return err
	}
	if err := s.wait("/readyz", 10*time.Second); err != nil {
		return err
	}
	fmt.Fprintf(b.log, "%d hostile requests and %d slow ones in %.0f s: %d answered 2xx, %d 3xx, %d 4xx, %d 5xx\n",
		b.doses.hostile, b.doses.slow, time.Since(began).Seconds(), statuses[2], statuses[3], statuses[4], statuses[5])
	b.put(never("hostile requests answered 5xx", failed, b.doses.hostile))
	b.put(never("hostile requests whose script came back", reflected, b.doses.hostile))
	b.put(never("hostile requests that showed internals", leaked, b.doses.hostile))
	return s.stop()
}

// isReflected tells whether a body holds the mark where a browser would run it.
func isReflected(low []byte) bool {
	for _, live := range []string{"<script>" + mark, "<img src=x onerror=" + mark, "<svg onload=" + mark, `"onmouseover="` + mark, `href="javascript:` + mark} {
		if bytes.Contains(low, []byte(live)) {
			return true
		}
	}
	return false
}

func poisoned(s *server, r *rand.Rand) *http.Request {
	poison := func() string { return poisons[r.IntN(len(poisons))] }
	path := places[r.IntN(len(places))]
	for strings.Contains(path, "{}") {
		v := poison()
		switch r.IntN(3) {
		case 0:
			v = url.QueryEscape(v)
		case 1:
			v = url.PathEscape(v)
		default: // as it is, as far as it can be sent
			v = strings.Map(func(c rune) rune {
				if c <= ' ' || c == 0x7f || c == '#' {
					return -1
				}
				return c
			}, v)
		}
		path = strings.Replace(path, "{}", v, 1)
	}
	method := methods[r.IntN(len(methods))]
	var body io.Reader
	kind := "application/x-www-form-urlencoded"
	if method != "GET" && method != "HEAD" {
		in := url.Values{}
		for range r.IntN(12) {
			in.Add(fields[r.IntN(len(fields))], poison())
		}
		body = strings.NewReader(in.Encode())
		switch r.IntN(24) {
		case 0: // too much
			body = bytes.NewReader(make([]byte, 3<<20))
		case 1:
			kind, body = "multipart/form-data; boundary="+mark, strings.NewReader("--"+mark+"\r\nContent-Disposition: form-data; name=\"code\"; filename=\"../x\"\r\n\r\n"+poison())
		case 2:
			kind = "application/json"
		case 3:
			body = strings.NewReader("%zz=%&&&=;" + poison())
		}
		if r.IntN(2) == 0 {
			path = []string{"/send", "/office/sign-in?to=/", "/office/count", "/office/people"}[r.IntN(2)] // mostly where something is stored
			if r.IntN(8) > 0 {
				path = "/send"
			}
		}
	}
	u, err := url.Parse(s.url("/"))
	if err == nil {
		u.Opaque = "//" + s.at + path // sent as it stands
	}
	req := &http.Request{Method: method, URL: u, Host: s.at, Header: http.Header{}}
	if body != nil {
		req.Body = io.NopCloser(body)
		req.ContentLength = -1
		if sized, ok := body.(interface{ Len() int }); ok {
			req.ContentLength = int64(sized.Len())
		}
		req.Header.Set("Content-Type", kind)
	}
	head := strings.Map(func(c rune) rune {
		if c < ' ' || c > '~' {
			return -1
		}
		return c
	}, poison())
	req.Header.Set([]string{"Cookie", "Accept-Language", "If-None-Match", "If-Modified-Since", "Range", "X-HTTP-Method-Override", "X-Forwarded-For", "Referer", "Origin", "Accept-Encoding"}[r.IntN(10)], head)
	if r.IntN(10) == 0 {
		req.Host = "<script>" + mark
	}
	return req
}

// raw sends bytes that no client library would.
func (b *bench) raw(s *server, r *rand.Rand, tell func(string, int, http.Header, []byte)) {
	lines := []string{
		"GET / HTTP/1.1\r\n\r\n", "GET / HTTP/9.9\r\nHost: x\r\n\r\n", "GET /\x00 HTTP/1.1\r\nHost: x\r\n\r\n", "\x16\x03\x01\x02\x00\x01", "GET " + strings.Repeat("/a", 40_000) + " HTTP/1.1\r\nHost: x\r\n\r\n",
		"GET / HTTP/1.1\r\nHost: x\r\nX: " + strings.Repeat("y", 60_000) + "\r\n\r\n", "POST /send HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n",
		"POST /send HTTP/1.1\r\nHost: x\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET /office HTTP/1.1\r\nHost: x\r\n\r\n",
		"POST /send HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n", "GET http://other.invalid/ HTTP/1.1\r\nHost: x\r\n\r\n", "GET //../..//etc/passwd HTTP/1.1\r\nHost: x\r\n\r\n",
		"OPTIONS * HTTP/1.1\r\nHost: x\r\n\r\n", "CONNECT 127.0.0.1:1 HTTP/1.1\r\nHost: x\r\n\r\n",
	}
	line := lines[r.IntN(len(lines))]
	conn, err := net.DialTimeout("tcp", s.at, 5*time.Second)
	if err != nil {
		tell(line, 599, http.Header{}, nil)
		return
	}
	defer conn.Close()
	conn.SetDeadline(time.Now().Add(5 * time.Second)) //nolint:errcheck // a plain connection takes one
	io.WriteString(conn, line)                        //nolint:errcheck // cut off by the server where it is too much
	res, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil { // hung up on: an answer too
		tell(line, 400, http.Header{}, nil)
		return
	}
	defer res.Body.Close()
	body, _ := io.ReadAll(res.Body)
	status := res.StatusCode
	if status == http.StatusHTTPVersionNotSupported || status == http.StatusNotImplemented {
		status = 400 // what the protocol asks for
	}
	tell(line, status, res.Header, body)
}

// slowOnes hold connections by sending a byte now and then, until the rest is done;
// in between the others must be answered.
func (b *bench) slowOnes(s *server) chan error {
	done := make(chan error, 1)
	var all sync.WaitGroup
	for i := range b.doses.slow {
		all.Go(func() {
			conn, err := net.Dial("tcp", s.at)
			if err != nil {
				return
			}
			defer conn.Close()
			text := "POST /send HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 4000\r\n\r\n" + strings.Repeat("a", 4000)
			if i%2 == 0 {
				text = "GET / HTTP/1.1\r\nHost: " + strings.Repeat("x", 4000)
			}
			for at := range min(len(text), 160) {
				if _, err := conn.Write([]byte{text[at]}); err != nil {
					return // the server had enough: what it should have
				}
				time.Sleep(10 * time.Millisecond)
			}
		})
	}
	go func() {
		all.Wait()
		done <- nil
	}()
	return done
}
