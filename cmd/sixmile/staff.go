package main

import (
	"bufio"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"golang.org/x/term"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
)

type staffCommand struct {
	Add    staffAddCommand    `cmd:"" help:"Add a person. The password is read from the first line of standard input."`
	Invite staffInviteCommand `cmd:"" help:"Invite a person, who sets a password by a link; --again makes a new link for somebody who is there."`
}

// person is who a command is about.
type person struct {
	Login    string   `arg:"" help:"What the person types to sign in: small letters and digits."`
	Name     string   `help:"The person's name or desk, as colleagues see it."`
	Role     string   `help:"What the person does: clerk, technician, educator or coordinator."`
	Counties []string `help:"Counties of a clerk or an educator, by name or code." name:"county"`
}

// staff makes the person out of the flags, by the same rules as the office's page.
func (p person) staff(ctx context.Context, o *opened) (account.Staff, error) {
	var counties []place.ID
	for _, name := range p.Counties {
		county, err := findCounty(ctx, postgres.NewProgram(o.staff), name)
		if err != nil {
			return account.Staff{}, err
		}
		counties = append(counties, county.ID)
	}
	who, err := account.NewStaff(p.Login, p.Name, account.Role(p.Role), counties)
	var bad *fault.Invalid
	if errors.As(err, &bad) {
		for _, f := range []struct{ field, flag string }{{"login", "login"}, {"name", "--name"}, {"role", "--role"}, {"counties", "--county"}} {
			if problem, wrong := bad.Fields[f.field]; wrong {
				if f.flag == "--role" {
					return who, errors.New("--role is clerk, technician, educator or coordinator")
				}
				return who, fmt.Errorf("%s: %s", f.flag, catalog.English().Say(problem.Key, problem.Args...))
			}
		}
	}
	return who, err
}

type staffAddCommand struct {
	database
	person
}

// Run adds the person. Nobody types a password before all else is in order.
func (s staffAddCommand) Run(ctx context.Context, c console) error {
	return s.with(ctx, c, func(o *opened) error {
		who, err := s.staff(ctx, o)
		if err != nil {
			return err
		}
		hash, err := s.password(ctx, c)
		if err != nil {
			return err
		}
		err = postgres.NewPeople(o.staff).Add(ctx, who, hash)
		if errors.Is(err, fault.ErrConflict) {
			return fmt.Errorf("the login %q is taken", who.Login)
		}
		if err == nil {
			fmt.Fprintf(c.out, "%s may sign in as %q (%s).\n", who.Name, who.Login, who.Role)
		}
		return err
	})
}

// password asks for one and gives its hash.
func (s staffAddCommand) password(ctx context.Context, c console) (string, error) {
	fmt.Fprintf(c.err, "Password (at least %d characters), then Enter: ", account.MinPassword)
	password, err := readSecret(ctx, c)
	if err != nil {
		return "", err
	}
	if key := account.PasswordProblem(s.Login, password); key != "" {
		return "", errors.New(catalog.English().SayOf("password.problem", key, "least", account.MinPassword))
	}
	return account.NewHasher().Hash(ctx, password)
}

// readSecret reads a line, which a terminal does not show. Whoever breaks it off gets
// the terminal back as it was.
func readSecret(ctx context.Context, c console) (string, error) {
	file, ok := c.in.(*os.File)
	if !ok || !term.IsTerminal(int(file.Fd())) {
		line, err := bufio.NewReader(c.in).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", err
		}
		return strings.TrimRight(line, "\r\n"), nil
	}
	before, err := term.GetState(int(file.Fd()))
	if err != nil {
		return "", err
	}
	type typed struct {
		secret []byte
		err    error
	}
	done := make(chan typed, 1)
	go func() {
		secret, err := term.ReadPassword(int(file.Fd()))
		done <- typed{secret, err}
	}()
	defer fmt.Fprintln(c.err)
	select {
	case t := <-done:
		return string(t.secret), t.err
	case <-ctx.Done():
		return "", errors.Join(ctx.Err(), term.Restore(int(file.Fd()), before))
	}
}

type staffInviteCommand struct {
	database
	person
	Again   bool   `help:"Make a new link for somebody who is there already: the password is set anew, and a second step is removed."`
	BaseURL string `help:"Address that people use; without one the link opens on this machine only." env:"SIXMILE_BASE_URL" default:"http://127.0.0.1:8080" placeholder:"https://HOST"`
}

// Run makes the invitation and prints its link, which is kept nowhere else.
func (s staffInviteCommand) Run(ctx context.Context, c console) error {
	link, err := account.NewLink(rand.Reader)
	if err != nil {
		return err
	}
	return s.with(ctx, c, func(o *opened) error {
		until, err := s.invite(ctx, o, link)
		if err != nil {
			return err
		}
		fmt.Fprintf(c.err, "This link opens once, until %s. Whoever opens it sets the password of %q.\n", until.Format(time.DateOnly), strings.ToLower(s.Login))
		if strings.Contains(s.BaseURL, "//127.0.0.1") {
			fmt.Fprintln(c.err, "It opens on this machine only: give --base-url for somebody elsewhere.")
		}
		fmt.Fprintf(c.out, "%s/office/welcome/%s\n", strings.TrimRight(s.BaseURL, "/"), link)
		return nil
	})
}

func (s staffInviteCommand) invite(ctx context.Context, o *opened, link account.Link) (until time.Time, err error) {
	people := postgres.NewPeople(o.staff)
	if s.Again {
		until = today().AddDate(0, 0, account.ResetDays)
		list, err := people.List(ctx, today())
		if err != nil {
			return until, err
		}
		for _, p := range list {
			if p.Login == strings.ToLower(s.Login) {
				return until, people.GiveLink(ctx, p.ID, link, today(), until)
			}
		}
		return until, fmt.Errorf("nobody has the login %q", s.Login)
	}
	until = today().AddDate(0, 0, account.InviteDays)
	who, err := s.staff(ctx, o)
	if err != nil {
		return until, err
	}
	_, err = people.Invite(ctx, who, link, today(), until)
	if errors.Is(err, fault.ErrConflict) {
		return until, fmt.Errorf("the login %q is taken; --again makes a new link for it", who.Login)
	}
	return until, err
}
