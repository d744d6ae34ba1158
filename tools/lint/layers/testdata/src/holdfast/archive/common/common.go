package common // want `package common says nothing about what it holds`
