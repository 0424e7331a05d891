package catalog

import "fmt"

// nameOf gives the name of value i of a small enumeration.
func nameOf(names []string, i uint8, typeName string) string {
	if int(i) < len(names) {
		return names[i]
	}
	return fmt.Sprintf("%s(%d)", typeName, i)
}

// named finds the value that a name belongs to.
func named[T ~uint8](names []string, text, what, want string) (T, error) {
	for i, name := range names {
		if name == text {
			return T(i), nil
		}
	}
	return 0, fmt.Errorf("%s %q: want %s", what, text, want)
}

// namedNonZero is named for an enumeration whose zero is no value.
func namedNonZero[T ~uint8](names []string, text, what, want string) (T, error) {
	if text == "" {
		return 0, fmt.Errorf("%s without a name: want %s", what, want)
	}
	return named[T](names, text, what, want)
}
