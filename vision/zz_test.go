package vision
import ("testing";"context";"syscall")
func cpu() float64 { var r syscall.Rusage; syscall.Getrusage(0,&r); return float64(r.Utime.Sec)+float64(r.Utime.Usec)/1e6 }
func TestZZ(t *testing.T){
	for _,n:=range []string{"/tmp/shk/pan.mp4","../testdata/clips/jump.mp4"} {
	c,_:=Open(context.Background(),n)
	fr,_:=c.FramesWithOptions(context.Background(),FrameOptions{})
	cam:=newCamera()
	var fs []*Frame
	for i:=0;i<60;i++ { f,err:=fr.Next(); if err!=nil{break}; fs=append(fs,f) }
	fr.Close()
	c0:=cpu()
	for r:=range 8 { for i:=range fs { k:=i; if r%2==1 {k=len(fs)-1-i}
		cam.step(fs[k].Mat,1,[]figure{{640,360,178,272}}) } }
	t.Logf("%s %.2f ms cpu/frame", n, (cpu()-c0)*1000/float64(8*len(fs)))
	for _,f:=range fs { f.Close() }
	cam.Close()
	}
}
