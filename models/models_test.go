package models_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/models"
)

func TestLoadBuiltIn(t *testing.T) {
	t.Setenv(models.FolderEnv, "")
	names, err := models.Names()
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{"detector", "full", "heavy", "shoe", "thunder"}; !slices.Equal(names, want) {
		t.Errorf("there are %v, want %v", names, want)
	}
	for _, name := range names {
		m, err := models.Load(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if m.Manifest.Name != name || m.Manifest.Licence != "Apache-2.0" || len(m.ONNX) < 1<<20 {
			t.Errorf("%s: name %q, licence %q, %d bytes", name, m.Manifest.Name, m.Manifest.Licence, len(m.ONNX))
		}
	}
}

func TestLandmarkKeypoints(t *testing.T) {
	for _, name := range []string{"heavy", "full"} {
		m, err := models.Load(name)
		if err != nil {
			t.Fatal(err)
		}
		body := m.Manifest.KeypointNames()
		if len(body) != 33 || len(m.Manifest.Keypoints) != 39 {
			t.Fatalf("%s: %d of %d keypoints are of the body, want 33 of 39", name, len(body), len(m.Manifest.Keypoints))
		}
		// Numbers of the published 33-point list.
		for index, want := range map[int]string{
			0: "nose", 11: "left_shoulder", 12: "right_shoulder", 23: "left_hip", 25: "left_knee",
			27: "left_ankle", 29: "left_heel", 31: "left_foot_index", 32: "right_foot_index",
		} {
			if body[index] != want || m.Manifest.KeypointIndex(want) != index {
				t.Errorf("%s: keypoint %d is %s, want %s", name, index, body[index], want)
			}
		}
		if m.Manifest.KeypointIndex("navel") != -1 {
			t.Error("a point that is not there has a place")
		}
		for i, k := range m.Manifest.Keypoints[1:11] {
			left, right := strings.Contains(k.Name, "left"), strings.Contains(k.Name, "right")
			if left == right {
				t.Errorf("keypoint %d, %s, has no side", i+1, k.Name)
			}
		}
	}
}

// The order of the published 17-point list (COCO keypoints), of which the outputs say nothing.
func TestThunderKeypoints(t *testing.T) {
	m, err := models.Load("thunder")
	if err != nil {
		t.Fatal(err)
	}
	want := "nose left_eye right_eye left_ear right_ear left_shoulder right_shoulder left_elbow right_elbow left_wrist " +
		"right_wrist " +
		"left_hip right_hip left_knee right_knee left_ankle right_ankle"
	if got := strings.Join(m.Manifest.KeypointNames(), " "); got != want {
		t.Errorf("keypoints %s, want %s", got, want)
	}
}

func TestLoadErrors(t *testing.T) {
	manifest, err := os.ReadFile("full.json")
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name  string
		model string
		files map[string]string
		want  error
	}{
		{"unknown", "tiny", nil, models.ErrUnknown},
		{"path instead of a name", "../models/full", nil, models.ErrUnknown},
		{"empty name", "", nil, models.ErrUnknown},
		{"no JSON", "full", map[string]string{"full.json": "ONNX"}, models.ErrCorrupt},
		{"ONNX missing", "full", map[string]string{"full.json": string(manifest)}, models.ErrCorrupt},
		{"ONNX changed", "full", map[string]string{"full.json": string(manifest), "full.onnx": "x"}, models.ErrCorrupt},
		{"manifest of another", "mine", map[string]string{"mine.json": string(manifest)}, models.ErrCorrupt},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			folder := t.TempDir()
			for name, content := range tt.files {
				if err := os.WriteFile(filepath.Join(folder, name), []byte(content), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			t.Setenv(models.FolderEnv, folder)
			if _, err := models.Load(tt.model); !errors.Is(err, tt.want) {
				t.Errorf("got the error %v, want %v", err, tt.want)
			}
		})
	}
}

func TestFolderComesFirst(t *testing.T) {
	folder := t.TempDir()
	manifest, err := os.ReadFile("full.json")
	if err != nil {
		t.Fatal(err)
	}
	onnx, err := os.ReadFile("full.onnx")
	if err != nil {
		t.Fatal(err)
	}
	renamed := strings.Replace(string(manifest), `"name": "full"`, `"name": "mine"`, 1)
	title := strings.Replace(string(manifest), `"title": "`, `"title": "My own `, 1)
	for name, content := range map[string]string{"mine.json": renamed, "full.json": title, "full.onnx": string(onnx)} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	t.Setenv(models.FolderEnv, folder)

	names, err := models.Names()
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{"detector", "full", "heavy", "mine", "shoe", "thunder"}; !slices.Equal(names, want) {
		t.Errorf("there are %v, want %v", names, want)
	}
	mine, err := models.Load("mine")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(mine.ONNX, onnx) {
		t.Error("another network was loaded than the one in the folder")
	}
	full, err := models.Load("full")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(full.Manifest.Title, "My own") {
		t.Errorf("the built-in network was loaded: %s", full.Manifest.Title)
	}
	// What the folder lacks is still there.
	if _, err := models.Load("detector"); err != nil {
		t.Error(err)
	}

	t.Setenv(models.FolderEnv, filepath.Join(folder, "nowhere"))
	if _, err := models.Load("full"); err != nil {
		t.Errorf("a folder that is not there hides the built-in networks: %v", err)
	}
}
