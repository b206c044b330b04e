package account

import (
	"slices"

	"sixmile/internal/place"
)

// Scope is how far a role may go with an action.
type Scope int

// The scopes. Own is nothing at all for a person who has no counties.
const (
	Never      Scope = iota
	Own              // what belongs to the person's own counties
	Everywhere       // the whole program
)

// duties is a line of the policy, by role in the order of Roles.
type duties [4]Scope

// policy is who may do what, and where: the whole of it. What a page does is
// named by its route; where it does it is checked by the page that knows the
// county, and once more by the store.
var policy = map[Action]duties{
	//             clerk       technician  educator    coordinator
	OwnAccount:   {Everywhere, Everywhere, Everywhere, Everywhere},
	SignedIn:     {Everywhere, Everywhere, Everywhere, Everywhere},
	HandOut:      {Own, Never, Never, Everywhere},
	PrintAnswer:  {Own, Never, Never, Everywhere},
	LogBags:      {Never, Everywhere, Never, Everywhere},
	KeyCounts:    {Never, Everywhere, Never, Everywhere},
	IssueBags:    {Never, Never, Never, Everywhere},
	SeeWaiting:   {Never, Never, Never, Everywhere},
	LoadPast:     {Never, Never, Never, Everywhere},
	Release:      {Never, Never, Never, Everywhere},
	SignOff:      {Never, Never, Never, Everywhere},
	KeepRecipes:  {Never, Never, Never, Everywhere},
	SeeEdge:      {Never, Never, Everywhere, Everywhere},
	PlanBags:     {Never, Never, Never, Everywhere},
	KeepMoney:    {Never, Never, Never, Everywhere},
	OwnSheets:    {Never, Never, Everywhere, Everywhere},
	MakeAnnual:   {Never, Never, Never, Everywhere},
	SettleBags:   {Never, Never, Never, Everywhere},
	KeepGround:   {Never, Never, Never, Everywhere},
	ManagePeople: {Never, Never, Never, Everywhere},
	SeeTrail:     {Never, Never, Never, Everywhere},
}

// Known tells whether a is an action of this program: a route with any other does not start.
func (a Action) Known() bool {
	_, listed := policy[a]
	return listed || a == Anyone
}

// Scope is how far a role may go with a.
func (a Action) Scope(r Role) Scope {
	i := slices.Index(Roles, r)
	if i < 0 {
		return Never
	}
	return policy[a][i]
}

// May tells whether the person may do a somewhere; a nil person is the public.
func (s *Staff) May(a Action) bool {
	switch {
	case a == Anyone:
		return true
	case s == nil, s.Owes && a != OwnAccount:
		return false
	}
	scope := a.Scope(s.Role)
	return scope == Everywhere || scope == Own && len(s.Counties) > 0
}

// MayIn is May for something that belongs to one county.
func (s *Staff) MayIn(a Action, county place.ID) bool {
	return a == Anyone || s.Reach(a).Covers(county)
}

// Reach is where a person may do something. Stores take one and keep to it.
type Reach struct {
	All      bool
	Counties []place.ID
}

// Reach is where the person may do a: nowhere for the public.
func (s *Staff) Reach(a Action) Reach {
	if !s.May(a) || s == nil {
		return Reach{}
	}
	if a.Scope(s.Role) == Everywhere {
		return Reach{All: true}
	}
	return Reach{Counties: s.Counties}
}

// Covers tells whether a county is within reach.
func (r Reach) Covers(county place.ID) bool { return r.All || slices.Contains(r.Counties, county) }
